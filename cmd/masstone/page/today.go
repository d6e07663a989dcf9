package page

import (
	"fmt"
	"net/http"

	"masstone/recipes/archive"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

func (s *Server) todayPages() {
	s.get("/{$}", func(q *ask) (view, error) {
		v, err := workbench.Today(q.Context(), q.bench, 8)
		if err != nil {
			return view{}, err
		}
		resins, err := workbench.Resins(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		log, err := workbench.Log(q.Context(), q.bench, workbench.LogRequest{Limit: 8})
		return view{"today", "Today", struct {
			workbench.UnderWay
			Empty bool
			Log   []archive.LogLine
		}{v, len(resins.Resins) == 0, log.Log}}, err
	})
	s.get("/log", func(q *ask) (view, error) {
		r := workbench.LogRequest{About: q.text("about"), Who: q.text("person"), Limit: 200}
		v, err := workbench.Log(q.Context(), q.bench, r)
		return view{"log", "Log", struct {
			Form form
			Log  []archive.LogLine
		}{looking("Log", "/log", "Look", text("about", "Words in the line", r.About), text("person", "By whom", r.Who)), v.Log}}, err
	})
	s.get("/open", func(q *ask) (view, error) {
		what, err := workbench.LookUp(q.Context(), q.bench, workbench.LookupRequest{What: q.text("what"), Resin: q.text("resin")})
		if err != nil {
			return view{}, err
		}
		to, is := map[string]string{papers.RecipeRef: "/recipe/" + what.Name, papers.BatchRef: "/batch/" + what.Name, papers.PourRef: "/pour/" + what.Name,
			papers.TargetRef: path("/target", "name", what.Name, "client", what.Within), papers.ChipRef: path("/chip", "name", what.Name, "resin", what.Within),
			papers.PigmentRef: path("/pigment", "code", what.Name), papers.ResinRef: path("/resin", "code", what.Name),
			papers.PlanRef: "/plan/" + what.Name, papers.RunRef: "/run/" + what.Name}[what.Kind]
		if !is {
			return view{}, refusal{http.StatusNotFound, fmt.Sprintf("%s is a %s, which has no page here", what.Name, what.Kind)}
		}
		return view{"moved", "Open", to}, nil
	})
}
