package papers

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/batch"
)

// RecipeCard is a recipe with what is known of it.
type RecipeCard struct {
	Heading
	Recipe      string        `json:"recipe"` // such as R1
	Name        string        `json:"name,omitempty"`
	Resin       string        `json:"resin"`
	Calibration string        `json:"calibration,omitempty"`
	Target      string        `json:"target,omitempty"`
	Client      string        `json:"client,omitempty"`
	Loadings    []Loading     `json:"loadings"`
	UsualGrams  float64       `json:"usual_grams,omitzero"` // whole batch that Loadings and Sides give grams of
	StepGrams   float64       `json:"step_grams,omitzero"`  // of the scale for that; 0.01 if 0
	Sides       []CardSide    `json:"sides,omitempty"`      // of the resin, for that
	ThicknessMM float64       `json:"thickness_mm,omitzero"`
	Backing     string        `json:"over,omitempty"`
	Colors      []CardColor   `json:"colors"` // by light, the main first
	Formula     color.Formula `json:"formula,omitempty"`
	Tolerance   float64       `json:"tolerance,omitzero"`
	Chance      float64       `json:"chance,omitzero"`      // of landing within it, 0 to 1
	Opacity     float64       `json:"opacity,omitzero"`     // contrast ratio at the thickness, 0 unknown
	HidesMM     float64       `json:"hides_mm,omitzero"`    // thickness at which it hides, 0 unknown
	CostPerKg   float64       `json:"cost_per_kg,omitzero"` // of coloured mixed resin, 0 unknown
	Currency    string        `json:"currency,omitempty"`   // of CostPerKg
	ResinLots   []string      `json:"resin_lots,omitempty"` // it was matched or proved with
	ApprovedBy  string        `json:"approved_by,omitempty"`
	ApprovedOn  string        `json:"approved_on,omitempty"` // day
	ApprovedAs  string        `json:"approved_as,omitempty"` // such as "housing v2"
	Head        string        `json:"head,omitempty"`        // of the bench's log at the approval
	Batches     []CardBatch   `json:"batches,omitempty"`     // weighed from it
	Notes       []string      `json:"notes,omitempty"`       //
}

// Loading is one pigment of a recipe.
type Loading struct {
	Pigment string        `json:"pigment"` // code
	Name    string        `json:"name,omitempty"`
	PHR     calibrate.PHR `json:"phr"`
	Grams   float64       `json:"grams,omitzero"`     // for the usual amount
	SD      calibrate.PHR `json:"sd_phr,omitzero"`    // of weighing and strength
	Slip    float64       `json:"slip_dE00,omitzero"` // that 1 % more of it moves the colour by
	Lot     string        `json:"lot,omitempty"`
}

// CardSide is a side of the resin for the usual amount.
type CardSide struct {
	Side  string  `json:"side"`
	Grams float64 `json:"grams"`
}

// CardColor is a recipe's colour under one light.
type CardColor struct {
	Lab      color.Lab   `json:"lab"`
	Half95   *[3]float64 `json:"half95,omitempty"` // half width of the 95 % intervals of L*, a*, b*
	Target   *color.Lab  `json:"target,omitempty"` // under the same condition
	Expected float64     `json:"expected_dE00,omitzero"`
	Upper95  float64     `json:"upper95_dE00,omitzero"` // 19 of 20 pours are nearer
}

// CardBatch is a batch in the history of a recipe.
type CardBatch struct {
	Batch string `json:"batch"`
	Grams string `json:"grams"`
	On    string `json:"on"`
}

// CardColors pairs predicted colours with the target's under the same
// condition.
func CardColors(predicted []calibrate.PredictedColor, target []color.Lab) []CardColor {
	out := make([]CardColor, len(predicted))
	for i, p := range predicted {
		half := p.Half95
		out[i] = CardColor{Lab: p.Lab, Half95: &half}
		for _, t := range target {
			if t.Under == p.Lab.Under {
				out[i].Target, out[i].Expected, out[i].Upper95 = &t, p.Expected, p.Upper95
			}
		}
	}
	return out
}

func (r RecipeCard) ref() Ref { return RefTo(RecipeRef, r.Recipe) }

func (r RecipeCard) check() error {
	if err := r.Heading.check(); err != nil {
		return err
	}
	if r.Recipe == "" || len(r.Loadings) == 0 {
		return errors.New("papers: recipe card without a name or loadings: give the recipe")
	}
	for _, l := range r.Loadings {
		if err := finite("loading of "+l.Pigment, float64(l.PHR), float64(l.SD), l.Slip, l.Grams); err != nil {
			return err
		}
	}
	for i := range r.Colors {
		c := &r.Colors[i]
		what := "colour under " + c.Lab.Under.String()
		if err := cmp.Or(finiteLab(what, &c.Lab), finiteLab(what, c.Target), finite(what, c.Expected, c.Upper95)); err != nil {
			return err
		}
		if c.Half95 != nil {
			if err := finite(what, c.Half95[:]...); err != nil {
				return err
			}
		}
	}
	if err := finite("recipe "+r.Recipe, r.ThicknessMM, r.Tolerance, r.Chance, r.Opacity, r.HidesMM, r.CostPerKg, r.UsualGrams, r.StepGrams); err != nil {
		return err
	}
	for _, x := range r.Sides {
		if err := finite("side "+x.Side, x.Grams); err != nil {
			return err
		}
	}
	if len(r.Sides) > 0 && !(r.UsualGrams > 0) {
		return errors.New("papers: recipe card with grams of the sides but no usual amount: give it")
	}
	return r.ref().check()
}

// difference is the predicted one, nil without a target.
func (r RecipeCard) difference(c CardColor) (*color.Difference, error) {
	if c.Target == nil {
		return nil, nil
	}
	d, err := color.Compare(*c.Target, c.Lab, orUsual(r.Formula))
	if err != nil {
		return nil, fmt.Errorf("papers: recipe %s: %w", r.Recipe, err)
	}
	return &d, nil
}

func (r RecipeCard) total() calibrate.PHR {
	sum := calibrate.PHR(0)
	for _, l := range r.Loadings {
		sum += l.PHR
	}
	return sum
}

func (r RecipeCard) document() (any, error) {
	differences := make([]*float64, len(r.Colors))
	for i, c := range r.Colors {
		d, err := r.difference(c)
		if err != nil {
			return nil, err
		}
		if d != nil {
			v := rounded(d.DE)
			differences[i] = &v
		}
	}
	return struct {
		RecipeCard
		Differences []*float64 `json:"differences"` // beside colors, in formula
		TotalPHR    float64    `json:"total_phr"`
		Find        Ref        `json:"find,omitzero"`
	}{r, differences, rounded(float64(r.total())), r.ref()}, nil
}

func (r RecipeCard) design() (design, error) {
	d := design{Kind: "Recipe card", Name: r.Recipe, Day: r.day(), Shop: r.Shop, Ref: r.ref()}
	d.About = "Resin " + r.Resin
	if s := subject(r.Target, r.Client); s != "" {
		d.About = "For " + s + " in resin " + r.Resin
	}

	var f facts
	f.add("Known as", r.Name)
	if r.ThicknessMM > 0 {
		part := short(r.ThicknessMM) + " mm"
		if r.Backing != "" {
			part += " over " + r.Backing
		}
		f.add("Part", part)
	}
	f.add("Calibration", r.Calibration)
	if r.Tolerance > 0 {
		f.add("Tolerance", symbol(r.Formula)+" "+fixed(r.Tolerance, 2))
	}
	if r.Chance > 0 {
		f.add("Chance within it", percent(r.Chance))
	}
	if r.Opacity > 0 {
		f.add("Contrast ratio, black to white", fixed(100*r.Opacity, 1)+" %")
	}
	if r.HidesMM > 0 {
		f.add("Hides from", fixed(math.Ceil(10*r.HidesMM-1e-9)/10, 1)+" mm")
	}
	if r.CostPerKg > 0 {
		cost := fixed(r.CostPerKg, 2)
		if r.Currency != "" {
			cost += " " + r.Currency
		}
		f.add("Cost of a kg", cost)
	}
	f.add("Resin lots", strings.Join(r.ResinLots, ", "))
	approved := r.ApprovedAs
	for _, more := range []struct{ word, value string }{{"by ", r.ApprovedBy}, {"on ", r.ApprovedOn}} {
		if more.value != "" {
			if approved != "" {
				approved += " "
			}
			approved += more.word + more.value
		}
	}
	f.add("Approved", approved)
	f.add("Head of the log", r.Head)
	if len(f.List) > 0 {
		d.Blocks = append(d.Blocks, &f)
	}
	if len(r.Colors) > 0 {
		colours, err := pair(r.Colors[0].Target, &r.Colors[0].Lab, "Predicted")
		if err != nil {
			return d, err
		}
		d.Blocks = append(d.Blocks, colours)
	}
	d.Blocks = append(d.Blocks, r.loadings())
	if len(r.Colors) > 0 {
		t, err := r.lights()
		if err != nil {
			return d, err
		}
		d.Blocks = append(d.Blocks, t)
	}
	if len(r.Batches) > 0 {
		t := &table{Title: "Weighed from it", Columns: []column{{Head: "batch", Strong: true}, {Head: "grams", Right: true}, {Head: "on"}}}
		for _, b := range r.Batches {
			t.add(b.Batch, b.Grams, b.On)
		}
		d.Blocks = append(d.Blocks, t)
	}
	if len(r.Notes) > 0 {
		d.Blocks = append(d.Blocks, &points{Title: "Notes", List: slices.Clone(r.Notes)})
	}
	return d, nil
}

func (r RecipeCard) loadings() block {
	t := &table{Title: "Loadings, grams of paste on 100 g of mixed resin", Large: true,
		Columns: []column{{Head: "pigment", Strong: true}, {Head: "name", Wraps: true}, {Head: "phr", Right: true, Strong: true}}}
	amount := r.UsualGrams > 0
	if amount {
		t.Columns = append(t.Columns, column{Head: "g in " + strconv.FormatFloat(math.Round(100*r.UsualGrams)/100, 'f', -1, 64) + " g", Right: true, Strong: true})
	}
	var sd, slip, lot bool
	for _, l := range r.Loadings {
		sd, slip, lot = sd || l.SD > 0, slip || l.Slip > 0, lot || l.Lot != ""
	}
	if sd {
		t.Columns = append(t.Columns, column{Head: "give or take", Right: true})
	}
	if slip {
		t.Columns = append(t.Columns, column{Head: "1 % more, " + symbol(color.CIEDE2000), Right: true})
	}
	if lot {
		t.Columns = append(t.Columns, column{Head: "lot", Wraps: true})
	}
	for _, l := range r.Loadings {
		row := []string{l.Pigment, l.Name, cardPHR(l.PHR)}
		if amount {
			row = append(row, r.grams(l.Grams))
		}
		if sd {
			row = append(row, unless(l.SD == 0, "± "+strconv.FormatFloat(float64(l.SD), 'g', 2, 64)))
		}
		if slip {
			row = append(row, unless(l.Slip == 0, fixed(l.Slip, 2)))
		}
		if lot {
			row = append(row, l.Lot)
		}
		t.add(row...)
	}
	for _, s := range r.Sides {
		row := make([]string, len(t.Columns))
		row[0], row[1], row[3] = s.Side, "side "+s.Side, r.grams(s.Grams)
		t.add(row...)
	}
	if len(r.Loadings) > 1 || amount {
		row := make([]string, len(t.Columns))
		row[1], row[2] = "in all", cardPHR(r.total())
		if amount {
			row[3] = r.grams(r.UsualGrams)
		}
		t.add(row...)
	}
	return t
}

// grams are as many digits as the scale shows.
func (r RecipeCard) grams(g float64) string {
	return batch.Grams(g).At(batch.Grams(cmp.Or(r.StepGrams, 0.01)))
}

// cardPHR is a loading as a person weighs it: half a unit of the third digit is half
// a percent at most. The other formats have it whole.
func cardPHR(p calibrate.PHR) string { return strconv.FormatFloat(float64(p), 'g', 3, 64) }

// unless is text, or a dash where there is none to give.
func unless(none bool, text string) string {
	if none {
		return "–"
	}
	return text
}

func (r RecipeCard) lights() (block, error) {
	t := &table{Title: "Predicted, with the half width of the 95 % interval",
		Columns: []column{{Head: "light", Strong: true}, {Head: "L*", Right: true}, {Head: "a*", Right: true}, {Head: "b*", Right: true}}}
	var judged, expected bool
	for _, c := range r.Colors {
		judged, expected = judged || c.Target != nil, expected || c.Expected > 0
	}
	if judged {
		t.Columns = append(t.Columns, column{Head: symbol(r.Formula), Right: true, Strong: true}, column{Head: "from the target", Wraps: true})
	}
	if expected {
		t.Columns = append(t.Columns, column{Head: "expected " + symbol(color.CIEDE2000), Right: true}, column{Head: "19 of 20 below", Right: true})
	}
	for _, c := range r.Colors {
		row := []string{c.Lab.Under.String()}
		for i, v := range c.Lab.Values() {
			cell := fixed(v, 2)
			if c.Half95 != nil {
				cell += " ± " + fixed(c.Half95[i], 2)
			}
			row = append(row, cell)
		}
		if judged {
			d, err := r.difference(c)
			if err != nil {
				return nil, err
			}
			if d == nil {
				row = append(row, "–", "")
			} else {
				row = append(row, fixed(d.DE, 2), d.Words())
			}
		}
		if expected {
			row = append(row, unless(c.Expected == 0, fixed(c.Expected, 2)), unless(c.Upper95 == 0, fixed(c.Upper95, 2)))
		}
		t.add(row...)
	}
	return t, nil
}

func (r RecipeCard) records() ([][]string, error) {
	rows := [][]string{{"recipe", "part", "item", "quantity", "value", "unit"}}
	add := func(part, item, quantity, value, unit string) {
		rows = append(rows, []string{r.Recipe, part, item, quantity, value, unit})
	}
	known := func(part, item, quantity string, v float64, unit string) {
		if v != 0 {
			add(part, item, quantity, plain(v), unit)
		}
	}
	for _, l := range r.Loadings {
		add("loading", l.Pigment, "loading", plain(float64(l.PHR)), "phr")
		known("loading", l.Pigment, "for the usual amount", l.Grams, "g")
		known("loading", l.Pigment, "standard deviation", float64(l.SD), "phr")
		known("loading", l.Pigment, "1 % more moves", l.Slip, "CIEDE2000")
		if l.Lot != "" {
			add("loading", l.Pigment, "lot", l.Lot, "")
		}
	}
	for _, s := range r.Sides {
		add("side", s.Side, "for the usual amount", plain(s.Grams), "g")
	}
	known("recipe", r.Recipe, "usual amount", r.UsualGrams, "g")
	for _, c := range r.Colors {
		under := c.Lab.Under.String()
		for i, axis := range axes {
			add("predicted", under, axis, plain(c.Lab.Values()[i]), "")
			if c.Half95 != nil {
				add("predicted", under, axis+" half95", plain(c.Half95[i]), "")
			}
			if c.Target != nil {
				add("target", under, axis, plain(c.Target.Values()[i]), "")
			}
		}
		d, err := r.difference(c)
		if err != nil {
			return nil, err
		}
		if d != nil {
			add("predicted", under, "difference", plain(d.DE), string(d.Formula))
		}
		known("predicted", under, "expected difference", c.Expected, "CIEDE2000")
		known("predicted", under, "19 of 20 below", c.Upper95, "CIEDE2000")
	}
	known("recipe", r.Recipe, "tolerance", r.Tolerance, string(orUsual(r.Formula)))
	known("recipe", r.Recipe, "chance", r.Chance, "")
	known("recipe", r.Recipe, "contrast ratio", r.Opacity, "")
	known("recipe", r.Recipe, "hides", r.HidesMM, "mm")
	known("recipe", r.Recipe, "cost per kg", r.CostPerKg, r.Currency)
	return rows, nil
}
