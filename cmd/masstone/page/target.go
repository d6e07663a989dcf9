package page

import (
	"bytes"

	"masstone/cmd/masstone/typed"
	"masstone/color"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

// formulas are the colour differences a client may agree on.
var formulas = formulaNames()

func (q *ask) targetForm() (form, error) {
	t := workbench.Target{ThicknessMM: 3, Over: "white", Tolerance: 1, Formula: string(color.CIEDE2000)}
	if q.Method == "POST" { // as the bench has it by now, which it may be meant to replace
		if now, err := workbench.ShowTarget(q.Context(), q.bench, q.text("client"), q.text("name")); err == nil {
			t = now.Target
		}
	}
	stated := ""
	if t.StatedSD != nil {
		stated = figure.Short(*t.StatedSD)
	}
	f := newForm("Add a target", "/target", "Store the target",
		text("name", "Name", t.Name).needed().help("such as Harbour lamp / housing"), text("client", "Client", q.text("client")), text("part", "Part", t.Part))
	for n := range usualReadings {
		x := text("lab", []string{"Reading 1", "Reading 2", "Reading 3"}[n], "")
		if n == 0 {
			x.Help = "L,a,b such as 61.2,38.9,21.4; or a file"
		}
		f.Fields = append(f.Fields, x)
	}
	f.Fields = append(f.Fields, illuminant("D65/10"),
		field{Name: "file", Label: "or a file with readings of the part", Kind: fileField}, text("row", "Row of the file", "").help("where it holds several pieces").more(),
		number("thickness", "Thickness of the part", "mm", t.ThicknessMM), q.backings(t.Over), number("tolerance", "Tolerance", "", t.Tolerance),
		text("thickness-sd-mm", "How far the thickness may miss, mm", stated).help("0.09 mm, of less than 3 mm 3 %, if empty").more(),
		number("aperture-mm", "Aperture it was read through, its diameter", "mm", 0.0).help("where nothing else says it").more(),
		pick("formula", "Formula of the tolerance", t.Formula, formulas...).more(), text("limits", "Limits per axis", listed(t.Limits)).help("such as L=0.8,a=0.5,b=0.5").more(),
		pick("specular", "Specular reflection", "", choice{"", "not said"}, choice{"included", "included"}, choice{"excluded", "excluded"}).more(),
		text("note", "Note", t.Note).more(), tick("replace", "Replace what is there").more(), hidden("seen", t.Ref))
	f.File = true
	return f, nil
}

// axes reads limits per axis, L=0.8,a=0.5.
func axes(text string) (map[string]float64, error) {
	out := map[string]float64{}
	return out, typed.Limits(out, text)
}

// readings are those of a part that a form has: typed, or of a file.
func (q *ask) readings() (workbench.Readings, error) {
	r := workbench.Readings{Typed: q.labs(), Row: q.text("row"), Instrument: q.text("instrument"), Condition: q.condition(), Measurement: q.measured()}
	u, err := q.upload("file")
	if u != nil {
		f := q.file(u)
		f.Data = bytes.NewReader(u.Data)
		f.Options.Backing, f.Options.ThicknessMM = "", 0
		r.File = &f
		if len(r.Typed) == 0 {
			r.Condition = color.Condition{}
			f.Options.Condition = q.condition()
		}
	}
	return r, err
}

func (s *Server) targetPages() {
	s.get("/targets", func(q *ask) (view, error) {
		all, err := workbench.Targets(q.Context(), q.bench, q.text("client"))
		if err != nil {
			return view{}, err
		}
		v := struct {
			Clients []clientTargets
			New     form
		}{}
		for _, t := range all.Targets {
			at := -1
			for i, c := range v.Clients {
				if c.Client == t.Client {
					at = i
				}
			}
			if at < 0 {
				v.Clients, at = append(v.Clients, clientTargets{Client: t.Client}), len(v.Clients)
			}
			v.Clients[at].Targets = append(v.Clients[at].Targets, t)
		}
		v.New, err = q.targetForm()
		return view{"targets", "Targets", v}, err
	})
	s.get("/target", func(q *ask) (view, error) {
		t, err := workbench.ShowTarget(q.Context(), q.bench, q.text("client"), q.text("name"))
		if err != nil {
			return view{}, err
		}
		pours, err := workbench.Pours(q.Context(), q.bench, workbench.PoursRequest{Target: t.Name, Client: t.Client, Limit: 10})
		return view{"target", "Target " + t.Name, struct {
			workbench.ShownTarget
			Pours []workbench.Pour
		}{t, pours.Pours}}, err
	})
	s.post("/target", action{(*ask).targetForm, func(q *ask) (string, error) {
		r := workbench.AddTargetRequest{Name: q.text("name"), Client: q.text("client"), Part: q.text("part"), ThicknessMM: q.number("thickness", typed.MM), ThicknessSDMM: q.optional("thickness-sd-mm", typed.Miss), Over: q.text("over"), Spot: workbench.Spot{ApertureMM: q.number("aperture-mm", typed.MM)},
			Tolerance: q.number("tolerance", typed.DE), Formula: read(q, "formula", color.ParseFormula), Limits: read(q, "limits", axes), Note: q.text("note"), Replace: q.tick("replace"), Seen: q.text("seen")}
		var err error
		if r.Readings, err = q.readings(); err != nil {
			return "", err
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.AddTarget(q.Context(), q.bench, r)
		return path("/target", "name", v.Name, "client", v.Client), err
	}})
}

// clientTargets are the targets of a client.
type clientTargets struct {
	Client  string
	Targets []workbench.Target
}

func formulaNames() []choice {
	var out []choice
	for _, f := range color.Formulas() {
		out = append(out, choice{string(f), string(f)})
	}
	return out
}
