package page

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"

	"masstone/cmd/masstone/typed"
	"masstone/recipes/papers"
	"masstone/recipes/runchart"
	"masstone/recipes/workbench"
)

// ofClient joins what a client may have named alike with the client, as a choice.
func ofClient(name, client string) string { return client + "\t" + name }

func (q *ask) runForm() (form, error) {
	all, err := workbench.Approvals(q.Context(), q.bench, workbench.ApprovalsRequest{})
	what := pick("approval", "Approved part", q.text("approval"))
	for _, a := range all.Approvals {
		label := a.Name
		if a.Client != "" {
			label += ", " + a.Client
		}
		what.Choices = append(what.Choices, choice{ofClient(a.Name, a.Client), label})
	}
	return newForm("Begin a run", "/runs", "Begin the run", what, field{Name: "parts", Label: "Parts wanted", Kind: wholeField, Need: true},
		text("risk", "Largest chance of being wrong about a part called within", "").help("5% if empty").more(), field{Name: "date", Label: "Begun on", Kind: dayField, More: true}, text("note", "Note", "").more()), err
}

func (q *ask) cupForm(run string) (form, error) {
	moulds, err := workbench.Moulds(q.Context(), q.bench)
	in := pick("mould", "Mould", "", choice{"", "not said"})
	for _, m := range moulds.Moulds {
		if m.Retired == "" {
			in.Choices = append(in.Choices, choice{m.Name, m.Name})
		}
	}
	return newForm("Pour a cup", "/run/"+run+"/pour", "Record the cup", text("batch", "Batch", "").needed().help("such as B4"), field{Name: "parts", Label: "Parts cast of it", Kind: wholeField, Value: "1"}, in,
		text("room", "Room", "").help("°C, such as 21").more(), text("mould-temp", "Temperature of the mould", "").help("°C, such as 30").more(), text("by", "Poured by", "").more(),
		text("lot", "Lots", "").help("CODE=LOT,...").more(), field{Name: "date", Label: "Poured on", Kind: dayField, More: true}, text("note", "Note", "").more()), err
}

// sheetForm asks for the sheet of a run, to write on beside the moulds.
func sheetForm(v workbench.Run) form {
	parts := 1
	if n := len(v.Cups); n > 0 {
		parts = v.Cups[n-1].Parts
	}
	return looking("Sheet to write on", "/run/"+v.Run+"/sheet/paper.pdf", "Sheet (PDF)", field{Name: "cup-parts", Label: "Parts of a cup", Kind: wholeField, Value: fmt.Sprint(parts)},
		text("batch", "Batch whose cups are next", "").help("such as B4; empty if none is weighed yet"))
}

func (s *Server) runPages() {
	s.get("/runs", func(q *ask) (view, error) {
		v, err := workbench.Runs(q.Context(), q.bench)
		if err != nil {
			return view{}, err
		}
		f, err := q.runForm()
		return view{"runs", "Runs", struct {
			workbench.RunList
			Start form
		}{v, f}}, err
	})
	s.post("/runs", action{(*ask).runForm, func(q *ask) (string, error) {
		client, name, _ := strings.Cut(q.text("approval"), "\t")
		if name == "" { // no client
			client, name = "", client
		}
		r := workbench.StartRunRequest{Approval: name, Client: client, Parts: q.whole("parts", 0), Risk: q.number("risk", typed.Share), On: q.text("date"), Note: q.text("note"), Again: q.tick("again")}
		if name == "" {
			return "", q.missing("approval", "a run is cast after an approval: approve a pour first")
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		v, err := workbench.StartRun(q.Context(), q.bench, r)
		return "/run/" + v.Run, err
	}})
	s.get("/run/{id}", func(q *ask) (view, error) {
		v, err := workbench.ShowRun(q.Context(), q.bench, q.PathValue("id"))
		if err != nil {
			return view{}, err
		}
		f, err := q.cupForm(v.Run)
		return view{"run", v.Run, struct {
			workbench.Run
			Pour, Sheet form
		}{v, f, sheetForm(v)}}, err
	})
	s.post("/run/{id}/pour", action{func(q *ask) (form, error) { return q.cupForm(q.PathValue("id")) }, func(q *ask) (string, error) {
		r := workbench.RunPourRequest{Run: q.PathValue("id"), Parts: q.whole("parts", 1), Mould: q.text("mould"), By: q.text("by"),
			AddPourRequest: workbench.AddPourRequest{Batch: q.text("batch"), On: q.text("date"), Note: q.text("note"), Lots: read(q, "lot", lots), Again: q.tick("again")}}
		if q.text("room") != "" {
			c := q.number("room", typed.Celsius)
			r.RoomC = &c
		}
		if q.text("mould-temp") != "" {
			c := q.number("mould-temp", typed.MouldCelsius)
			r.MouldC = &c
		}
		if r.Batch == "" {
			return "", q.missing("batch", "say which batch the cup is of, such as B4")
		}
		if err := q.fault(); err != nil {
			return "", err
		}
		_, err := workbench.PourRun(q.Context(), q.bench, r)
		return "/run/" + q.PathValue("id"), err
	}})
	s.mux.HandleFunc("GET /run/{id}/chart.svg", func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		v, err := workbench.ShowRun(q.Context(), q.bench, q.PathValue("id"))
		var out bytes.Buffer
		if err == nil {
			title, charts := v.Drawn()
			err = runchart.Write(&out, runchart.SVG, title, charts)
		}
		if err != nil {
			q.fail(err)
			return
		}
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; font-src data:; sandbox")
		asset(w, "image/svg+xml", out.Bytes())
	})
	s.paper("/run/{id}/sheet", func(q *ask) (papers.Paper, error) {
		r := workbench.RunSheetRequest{Run: q.PathValue("id"), Batch: q.text("batch"), CupParts: q.whole("cup-parts", 0), Shop: s.o.Shop}
		if err := q.fault(); err != nil {
			return nil, err
		}
		return workbench.RunSheet(q.Context(), q.bench, r)
	})
	s.paper("/run/{id}/certificate", func(q *ask) (papers.Paper, error) {
		return workbench.RunCertificate(q.Context(), q.bench, workbench.RunCertificateRequest{Run: q.PathValue("id"), Shop: s.o.Shop})
	})
}
