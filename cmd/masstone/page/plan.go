package page

import (
	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

func (q *ask) casting() workbench.Casting {
	c := workbench.Casting{ChipGrams: q.grams("chip-grams"), ScaleGrams: q.grams("scale"), ThicknessMM: q.number("thickness", typed.MM)}
	if over := q.list("over"); len(over) > 0 && over[0] != "" {
		c.Over = over
	}
	return c
}

func (q *ask) planForms() (start, next form, err error) {
	choose, _, err := q.resins()
	if err != nil {
		return start, next, err
	}
	cast := []field{number("chip-grams", "Mixed resin in the cup", "g", 0.0).help("as most chips were cast, if empty").more(), number("scale", "Step of the scale", "g", 0.0).more(), number("thickness", "Thickness", "mm", 0.0).more()}
	start = newForm("The first chips", "/plan/start", "Plan the first chips", append([]field{choose,
		{Name: "per-colour", Label: "Chips per colour", Kind: wholeField, Help: "1 to 4; the fewest that will do, if empty"},
		number("level", "Loading of a masstone", "phr", 0.0).more()}, cast...)...)
	next = newForm("What to cast next", "/plan/next", "Plan what to cast next", append([]field{choose,
		field{Name: "count", Label: "How many", Kind: wholeField, Value: "3"},
		text("for", "For this target", "").help("for all colours the pigments reach, if empty")}, cast...)...)
	return start, next, nil
}

func (s *Server) planPages() {
	s.get("/plan", func(q *ask) (view, error) {
		start, next, err := q.planForms()
		return view{"plan", "Plan", struct{ Start, Next form }{start, next}}, err
	})
	s.post("/plan/start", action{func(q *ask) (form, error) { start, _, err := q.planForms(); return start, err }, func(q *ask) (string, error) {
		r := workbench.PlanStartRequest{Resin: q.text("resin"), Casting: q.casting(), PerColour: q.whole("per-colour", 0), Level: calibrate.PHR(q.number("level", typed.PHR))}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.PlanStart(q.Context(), q.bench, r)
		if err != nil {
			return "", err
		}
		return "/plan/" + s.kept.put(v), nil
	}})
	s.post("/plan/next", action{func(q *ask) (form, error) { _, next, err := q.planForms(); return next, err }, func(q *ask) (string, error) {
		r := workbench.PlanNextRequest{Resin: q.text("resin"), Casting: q.casting(), Count: q.whole("count", 3)}
		if name := q.text("for"); name != "" {
			r.For = []string{name}
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		return s.begin(q, "Plan of what to cast next", func(w *work) (string, error) {
			v, err := workbench.PlanNext(w.ctx, w.bench, r)
			if err != nil {
				return "", err
			}
			return "/plan/" + s.kept.put(v), nil
		}), nil
	}})
	s.get("/plan/{id}", func(q *ask) (view, error) {
		v, is := result[workbench.PlanResult](s.kept, q.PathValue("id"))
		if !is {
			return view{}, errGone
		}
		return view{"planned", "Chips to cast in " + v.Resin, struct {
			workbench.PlanResult
			ID string
		}{v, q.PathValue("id")}}, nil
	})
	s.paper("/plan/{id}/plan", func(q *ask) (papers.Paper, error) {
		v, is := result[workbench.PlanResult](s.kept, q.PathValue("id"))
		if !is {
			return nil, errGone
		}
		v.Paper.Heading = s.heading()
		return v.Paper, nil
	})
	s.paper("/plan/{id}/labels", func(q *ask) (papers.Paper, error) {
		v, is := result[workbench.PlanResult](s.kept, q.PathValue("id"))
		if !is {
			return nil, errGone
		}
		return papers.Labels{Heading: s.heading(), Labels: papers.ChipLabels(v.Paper)}, nil
	})
}
