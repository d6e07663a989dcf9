package page

import (
	"masstone/recipes/workbench"
)

func (q *ask) jarForm() (form, error) {
	choose, _, err := q.resins()
	if err != nil {
		return form{}, err
	}
	shelf, err := workbench.Pigments(q.Context(), q.bench)
	of := pick("pigment", "Pigment", q.text("pigment"))
	for _, p := range shelf.Pigments {
		of.Choices = append(of.Choices, choice{p.Code, p.Code + " " + p.Name})
	}
	return newForm("Stir a pre-dilution", "/jars", "Keep the jar", of, number("paste-g", "Paste", "g", 0.0).help("as the scale showed it"), number("side-g", "Stirred into", "g", 0.0).help("resin, of the side that takes the pigments"),
		choose, text("lot", "Lot of the paste", "").help("the one in use, if empty").more(), text("name", "Name of the jar", "").help("D1, D2, ... if empty").more(),
		field{Name: "date", Label: "Stirred on", Kind: dayField, More: true}, text("note", "Note", "").more()), err
}

func (s *Server) jarPages() {
	s.get("/jars", func(q *ask) (view, error) {
		v, err := workbench.Stocks(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		f, err := q.jarForm()
		return view{"jars", "Jars and pails", struct {
			workbench.StockList
			Stir form
		}{v, f}}, err
	})
	s.post("/jars", action{(*ask).jarForm, func(q *ask) (string, error) {
		r := workbench.DiluteRequest{Pigment: q.text("pigment"), Resin: q.text("resin"), PasteGrams: q.grams("paste-g"), SideGrams: q.grams("side-g"), Lot: q.text("lot"), On: q.text("date"),
			Name: q.text("name"), Note: q.text("note"), Again: q.tick("again")}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.Dilute(q.Context(), q.bench, r)
		return path("/jar", "name", v.Stock), err
	}})
	s.get("/jar", func(q *ask) (view, error) {
		v, err := workbench.ShowStock(q.Context(), q.bench, q.text("name"))
		return view{"jar", v.Stock, v}, err
	})
}
