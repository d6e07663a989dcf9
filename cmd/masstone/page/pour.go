package page

import (
	"strings"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/workbench"
)

// lots reads CODE=LOT,...
func lots(text string) (map[string]string, error) {
	out := map[string]string{}
	return out, typed.Lots(out, text)
}

func (q *ask) pourForm() (form, error) {
	f := newForm("Record the pour", "/pour", "Record the pour", hidden("batch", q.text("batch")))
	for name, values := range q.Form {
		if strings.HasPrefix(name, "s.") {
			f.Fields = append(f.Fields, hidden(name, values[0]))
		}
	}
	f.Fields = append(f.Fields, text("room", "Room", "").help("°C, such as 21"), text("lot", "Lots", "").help("CODE=LOT,..."), field{Name: "date", Label: "Poured on", Kind: dayField}, text("note", "Note", ""))
	return f, nil
}

func (q *ask) pourReadForm(pour string) form {
	f := newForm("Read pour "+pour, "/pour/"+pour+"/read", "Hold it against the target")
	for n := range usualReadings {
		x := text("lab", []string{"Reading 1", "Reading 2", "Reading 3"}[n], "")
		if n == 0 {
			x.Help = "L,a,b such as 65.9,-11.6,-2.3; or a file"
		}
		f.Fields = append(f.Fields, x)
	}
	f.Fields = append(f.Fields, field{Name: "file", Label: "or a file with readings of the part", Kind: fileField}, text("row", "Row of the file", "").more(),
		field{Name: "part", Label: "Which part of the pour", Kind: wholeField, Help: "from 1, where it has several"}.more(), text("age", "Age of the part", "").help("such as 24h or 7d").more(), text("part-temp", "Part", "").help("°C, such as 23").more(),
		text("illuminant", "Light and observer", "").help("that of the instrument or of the target, if empty").more())
	for _, x := range q.instrumentFields("") {
		if x.Name == "instrument" {
			f.Fields = append(f.Fields, x)
		}
	}
	f.Fields = append(f.Fields, number("aperture-mm", "Aperture it was read through, its diameter", "mm", 0.0).help("where nothing else says it").more(),
		text("thickness-sd-mm", "How far its thickness may miss, mm", "").help("that of its mould or target, if empty").more(), text("note", "Note", "").more())
	f.File = true
	return f
}

func (q *ask) correctForm(pour string) form {
	return newForm("What can be done", "/correct", "Show the ways out", hidden("pour", pour),
		number("pot-grams", "Left in the pot", "g", 0.0).help("pastes included; empty for nothing"),
		pick("pot-side", "The pot holds", "", choice{"", "the tinted side"}, choice{"mixed", "mixed resin"}),
		number("grams", "Next batch", "g", 0.0).help("as large as the last, if empty"), q.scaleField(),
		tick("any-pigment", "Also try pigments that are not in the cup").more(), number("pot-growth", "The pot may grow to", "times", 0.0).help("2, if empty").more(),
		text("stock", "The pot is the tinted stock", "").more(), tick("keep", "Keep what was learnt of the lots, for other recipes"))
}

func approveForm(recipe, pour string) form {
	return newForm("Approve", "/approve", "Approve "+recipe, hidden("recipe", recipe), hidden("pour", pour),
		text("by", "Approved by", "").help("such as J. Brandt, Tern Lighting"), text("note", "Note", ""))
}

func (s *Server) pourPages() {
	s.get("/pours", func(q *ask) (view, error) {
		v, err := workbench.Pours(q.Context(), q.bench, workbench.PoursRequest{Target: q.text("target"), Client: q.text("client"), Limit: 100})
		return view{"pourlist", "Pours", v.Pours}, err
	})
	s.get("/pour/{id}", func(q *ask) (view, error) {
		p, err := workbench.ShowPour(q.Context(), q.bench, q.PathValue("id"))
		return view{"pour", "Pour " + p.Pour.Pour, struct {
			workbench.PourHistory
			Read, Correct, Approve form
		}{p, q.pourReadForm(p.Pour.Pour), q.correctForm(p.Pour.Pour), approveForm(p.Recipe, p.Pour.Pour)}}, err
	})
	s.post("/pour", action{(*ask).pourForm, func(q *ask) (string, error) {
		r := workbench.AddPourRequest{Batch: q.text("batch"), Weighed: q.shown("s"), On: q.text("date"), Note: q.text("note"), Lots: read(q, "lot", lots), Again: q.tick("again")}
		if q.text("room") != "" {
			c := q.number("room", typed.Celsius)
			r.RoomC = &c
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.AddPour(q.Context(), q.bench, r)
		return "/pour/" + v.Pour, err
	}})
	s.post("/pour/{id}/read", action{func(q *ask) (form, error) { return q.pourReadForm(q.PathValue("id")), nil }, func(q *ask) (string, error) {
		r := workbench.ReadPourRequest{Pour: q.PathValue("id"), Note: q.text("note"), Again: q.tick("again"), Part: q.whole("part", 0), AgeHours: q.number("age", typed.Hours), Spot: workbench.Spot{ApertureMM: q.number("aperture-mm", typed.MM)}, ThicknessSDMM: q.optional("thickness-sd-mm", typed.Miss)}
		if q.text("part-temp") != "" {
			c := q.number("part-temp", typed.MouldCelsius)
			r.PartC = &c
		}
		var err error
		if r.Readings, err = q.readings(); err != nil {
			return "", err
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		_, err = workbench.ReadPour(q.Context(), q.bench, r)
		return "/pour/" + q.PathValue("id"), err
	}})
	answers(s, "/correct", "/correct", func(q *ask) (form, error) { return q.correctForm(q.text("pour")), nil }, func(q *ask) (workbench.Correction, error) {
		r := workbench.CorrectRequest{Pour: q.text("pour"), PotGrams: q.grams("pot-grams"), PotSide: q.text("pot-side"), Stock: q.text("stock"), MaxGrowth: q.number("pot-growth", typed.Times),
			AnyPigment: q.tick("any-pigment"), MaxPigments: workbench.UsualMaxPigments, BatchGrams: q.grams("grams"), Keep: q.tick("keep")}
		r.ScaleChoice, r.ScaleGrams = q.scale()
		return calculated(q, func() (workbench.Correction, error) { return workbench.Correct(q.Context(), q.bench, r) })
	}, func(q *ask, v workbench.Correction) (view, error) {
		return view{"correction", "Ways out of " + v.Pour, v}, nil
	})
	s.post("/approve", action{func(q *ask) (form, error) { return approveForm(q.text("recipe"), q.text("pour")), nil }, func(q *ask) (string, error) {
		r := workbench.ApproveRequest{Recipe: q.text("recipe"), By: q.text("by"), Note: q.text("note"), Again: q.tick("again")}
		if pour := q.text("pour"); pour != "" {
			r.Pours = []string{pour}
		}
		v, err := workbench.Approve(q.Context(), q.bench, r)
		return path("/approval", "target", v.Target, "client", v.Client), err
	}})
}
