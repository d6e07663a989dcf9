package page

import (
	"strings"

	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

func (q *ask) casting() workbench.Casting {
	c := workbench.Casting{ChipGrams: q.grams("chip-grams"), ThicknessMM: q.number("thickness", typed.MM)}
	c.ScaleChoice, c.ScaleGrams = q.scale()
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
	cast := []field{number("chip-grams", "Mixed resin in the cup", "g", 0.0).help("as most chips were cast, if empty").more(), q.scaleField().more(), number("thickness", "Thickness", "mm", 0.0).more()}
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
		if err != nil {
			return view{}, err
		}
		kept, err := workbench.Plans(q.Context(), q.bench, "")
		return view{"plan", "Plan", struct {
			Start, Next form
			Plans       []workbench.ListedPlan
		}{start, next, kept.Plans}}, err
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
		return s.planned(v), nil
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
			return s.planned(v), nil
		}), nil
	}})
	s.get("/plan/{id}", func(q *ask) (view, error) {
		v, err := s.plan(q)
		return view{"planned", strings.TrimSpace(v.Plan + " Chips to cast in " + v.Resin), struct {
			workbench.PlanResult
			ID string
		}{v, q.PathValue("id")}}, err
	})
	s.paper("/plan/{id}/plan", func(q *ask) (papers.Paper, error) {
		v, err := s.plan(q)
		v.Paper.Heading = s.heading()
		return v.Paper, err
	})
	s.paper("/plan/{id}/labels", func(q *ask) (papers.Paper, error) {
		v, err := s.plan(q)
		return papers.Labels{Heading: s.heading(), Labels: papers.ChipLabels(v.Paper)}, err
	})
}

// planned is the page of a plan: that of its number, or, where no chip pays and
// nothing is kept, one for now.
func (s *Server) planned(v workbench.PlanResult) string {
	if v.Plan != "" {
		return "/plan/" + v.Plan
	}
	return "/plan/" + s.kept.put(v)
}

// plan finds the plan of a page.
func (s *Server) plan(q *ask) (workbench.PlanResult, error) {
	id := q.PathValue("id")
	if v, is := result[workbench.PlanResult](s.kept, id); is {
		return v, nil
	}
	if !strings.HasPrefix(strings.ToUpper(id), "PL") {
		return workbench.PlanResult{}, errGone
	}
	return workbench.ShowPlan(q.Context(), q.bench, id)
}
