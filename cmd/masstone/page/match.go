package page

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

func codes(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' })
}

func (q *ask) matchForm() (form, error) {
	choose, _, err := q.resins()
	return newForm("Match", "/match", "Find recipes", hidden("target", q.text("target")), hidden("client", q.text("client")), choose,
		field{Name: "max-pigments", Label: "Most pigments in a recipe", Kind: wholeField, Value: strconv.Itoa(workbench.UsualMaxPigments)},
		field{Name: "recipes", Label: "Most recipes", Kind: wholeField, Value: strconv.Itoa(workbench.UsualRecipes)},
		number("grams", "Batch to weigh", "g", 100.0), q.scaleField(),
		text("require", "Every recipe holds", "").help("codes, such as WH").more(), text("forbid", "No recipe holds", "").help("codes").more(), text("allow", "A recipe may hold", "").help("codes; all if empty").more(),
		number("total-phr", "Most paste in all", "phr", 0.0).more(), number("min-opacity", "Least opacity", "", 0.0).help("such as 98%").more(),
		number("max-cost", "Most cost", "per kg", 0.0).more(), number("resin-price", "Price of mixed resin", "per kg", 0.0).more(),
		number("min-weigh", "Least amount of a pigment", "g", 0.0).more(), number("thickness", "Thickness of the part", "mm", 0.0).help("the target's, if empty").more(),
		tick("stock", "No more of a pigment than is on the shelf").more(), tick("by-predicted", "Choose by predicted instead of expected difference").more(),
		tick("anyway", "Match a colour that reads as fluorescent, metallic or pearl").more()), err
}

func (s *Server) matchPages() {
	s.get("/match", func(q *ask) (view, error) {
		f, err := q.matchForm()
		if err != nil {
			return view{}, err
		}
		t, err := workbench.ShowTarget(q.Context(), q.bench, q.text("client"), q.text("target"))
		return view{"matching", "Match " + t.Name, struct {
			workbench.Target
			Form form
		}{t.Target, f}}, err
	})
	answers(s, "/match", "/match", (*ask).matchForm, func(q *ask) (workbench.MatchResult, error) {
		r := workbench.MatchRequest{Target: q.text("target"), Client: q.text("client"), Resin: q.text("resin"), ThicknessMM: q.number("thickness", typed.MM),
			Limits: workbench.Limits{MaxPigments: q.whole("max-pigments", workbench.UsualMaxPigments), Recipes: q.whole("recipes", workbench.UsualRecipes), Required: codes(q.text("require")), Forbidden: codes(q.text("forbid")), Allowed: codes(q.text("allow")),
				TotalPHR: calibrate.PHR(q.number("total-phr", typed.PHR)), BatchGrams: q.grams("grams"), MinWeigh: q.grams("min-weigh"),
				MinOpacity: q.number("min-opacity", typed.Share), MaxCostPerKg: q.number("max-cost", typed.Price), ResinPricePerKg: q.number("resin-price", typed.Price),
				Stock: q.tick("stock"), ByPredicted: q.tick("by-predicted")}, Anyway: q.tick("anyway")}
		r.Limits.ScaleChoice, r.Limits.ScaleGrams = q.scale()
		return calculated(q, func() (workbench.MatchResult, error) { return workbench.Match(q.Context(), q.bench, r) })
	}, func(q *ask, v workbench.MatchResult) (view, error) {
		m := matched{MatchResult: v, Here: q.URL.Path, Light: q.text("light")}
		if m.Light == "" {
			m.Light = v.Under
		}
		if at := slices.IndexFunc(v.Recipes, func(r workbench.FoundRecipe) bool { return r.ID == q.text("recipe") }); at > 0 {
			m.At = at
		}
		return view{"match", "Match " + v.Target, m}, nil
	})
	s.mixPages()
}

// A matched is a match as its page shows it: one recipe under one light.
type matched struct {
	workbench.MatchResult
	Here, Light string
	At          int
}

// Recipe is the recipe shown.
func (m matched) Recipe() workbench.FoundRecipe { return m.Recipes[m.At] }

// Lights are those both target and recipes are known under.
func (m matched) Lights() []string {
	var out []string
	for _, c := range m.Seen {
		if m.predicted(c.Under) != nil {
			out = append(out, c.Under)
		}
	}
	return out
}

func (m matched) predicted(under string) *workbench.PredictedColor {
	for i, c := range m.Recipe().Colors {
		if c.Under == under {
			return &m.Recipe().Colors[i]
		}
	}
	return nil
}

// A pair is target and prediction under a light.
type pair struct {
	Target    figure.Lab
	Predicted workbench.PredictedColor
	DE00      figure.Number
}

// Pair is target and prediction under the light shown.
func (m matched) Pair() *pair {
	for _, c := range m.Seen {
		if p := m.predicted(c.Under); c.Under == m.Light && p != nil {
			v := pair{Target: c.Lab, Predicted: *p}
			if de, err := c.Color().DeltaE00(p.Lab.Color(p.Under)); err == nil {
				v.DE00 = figure.Number(de)
			}
			return &v
		}
	}
	return nil
}

// phrs writes a loading as results show it, to four figures.
func phrs[V ~float64](v V) string { return strconv.FormatFloat(float64(v), 'g', 4, 64) }

// A slider is the loading of a pigment in a mixture that is tried.
type slider struct {
	Code, Name, Value string
	Most              string
}

// A mixture is one that is tried, beside a target where there is one.
type mixture struct {
	Resin, Target, Client string
	Sliders               []slider
	Colour                tried
	Choose, Store         form
}

// A tried is the colour of a mixture.
type tried struct {
	workbench.PredictResult
	Beside *workbench.Color // the target
	DE00   figure.Number
	Wrong  []string
}

func (q *ask) tried() tried {
	mix := map[string]float64{}
	for code, phr := range q.loadings("phr") {
		mix[code] = float64(phr)
	}
	r := workbench.PredictRequest{Resin: q.text("resin"), Loadings: mix, ThicknessMM: q.number("thickness", typed.MM), Over: q.text("over")}
	err := q.fault()
	var v tried
	if err == nil {
		v.PredictResult, err = workbench.Predict(q.Context(), q.bench, r)
	}
	if err != nil {
		v.Wrong = worded(err)
		return v
	}
	if name := q.text("target"); name != "" {
		t, err := workbench.ShowTarget(q.Context(), q.bench, q.text("client"), name)
		if err != nil {
			v.Wrong = worded(err)
			return v
		}
		for _, c := range append(slices.Clone(t.Colors), deref(t.OfSpectra)...) {
			if c.Under == v.Colors[0].Under {
				v.Beside = &workbench.Color{Under: c.Under, Lab: c.Lab}
				if de, err := c.Lab.Color(c.Under).DeltaE00(v.Lab.Color(c.Under)); err == nil {
					v.DE00 = figure.Number(de)
				}
				break
			}
		}
	}
	return v
}

func deref(c *workbench.PartColor) []workbench.PartColor {
	if c == nil {
		return nil
	}
	return []workbench.PartColor{*c}
}

func (s *Server) mixPages() {
	s.get("/mix", func(q *ask) (view, error) {
		choose, resin, err := q.resins()
		if err != nil {
			return view{}, err
		}
		v := mixture{Resin: resin, Target: q.text("target"), Client: q.text("client"), Choose: looking("Mix", "/mix", "Show", choose)}
		if resin == "" {
			return view{"mix", "Mix", v}, nil
		}
		q.Form.Set("resin", resin)
		cal, err := workbench.ShowCalibration(q.Context(), q.bench, workbench.CalibrationRequest{Resin: resin})
		if err != nil {
			return view{}, err
		}
		shelf, err := workbench.Pigments(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		mix := q.loadings("phr")
		var stored []string
		for _, code := range cal.Pigments {
			x := slider{Code: code, Value: phrs(mix[code]), Most: "3"}
			for _, p := range shelf.Pigments {
				if p.Code == code {
					x.Name = p.Name
					if p.MaxPHR != nil {
						x.Most = figure.Short(float64(*p.MaxPHR))
					}
				}
			}
			v.Sliders = append(v.Sliders, x)
			stored = append(stored, code)
		}
		v.Colour = q.tried()
		v.Store = q.recipeForm()
		return view{"mix", "Mix in " + resin, v}, nil
	})
	// the colour of a mixture alone, for sliders
	s.mux.HandleFunc("GET /mix/color", func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if err := pages().ExecuteTemplate(w, "mixed", q.tried()); err != nil {
			s.o.Log("page mixed: %v", err)
		}
	})
	s.post("/recipe", action{func(q *ask) (form, error) { return q.recipeForm(), nil }, func(q *ask) (string, error) {
		r := workbench.AddRecipeRequest{Resin: q.text("resin"), Loadings: q.loadings("phr"), Target: q.text("target"), Client: q.text("client"), Name: q.text("name"), Note: q.text("note")}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.AddRecipe(q.Context(), q.bench, r)
		return "/recipe/" + v.ID, err
	}})
}

func (q *ask) recipeForm() form {
	mix := q.loadings("phr")
	return newForm("Store as a recipe", "/recipe", "Store as a recipe", hidden("resin", q.text("resin")), hidden("target", q.text("target")), hidden("client", q.text("client")),
		text("phr", "Loadings", listed(mix)).needed().help("phr, such as WH=1.5,FG=0.3"), text("name", "Name", ""), text("note", "Note", "").more())
}

// bars draw the 95 % bars of a prediction, L*, a* and b* one below the other.
func bars(lab, half figure.Lab) template.HTML {
	var b strings.Builder
	b.WriteString(`<svg class="bars" viewBox="0 0 100 30" role="img" aria-label="95 % bars">`)
	most := max(float64(half.L), float64(half.A), float64(half.B), 0.5)
	for i, axis := range []struct {
		name string
		v, h float64
	}{{"L*", float64(lab.L), float64(half.L)}, {"a*", float64(lab.A), float64(half.A)}, {"b*", float64(lab.B), float64(half.B)}} {
		y, w := 5+10*i, 26*axis.h/most
		fmt.Fprintf(&b, `<text x="0" y="%d">%s %.2f</text><line x1="62" x2="62" y1="%d" y2="%d"/><line class="half" x1="%.1f" x2="%.1f" y1="%d" y2="%d"/><text class="end" x="100" y="%d">±%.2f</text>`,
			y+2, axis.name, axis.v, y-3, y+3, 62-w, 62+w, y, y, y+2, axis.h)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}
