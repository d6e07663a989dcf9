package page

import (
	"bytes"
	"net/http"
	"strings"
	"time"

	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

// heading is what every paper carries.
func (s *Server) heading() papers.Heading {
	return papers.Heading{Made: s.o.Now().Truncate(time.Second), Shop: s.o.Shop}
}

// paper adds a paper, as PDF to print and as a page to look at: PATH.pdf and
// PATH.html.
func (s *Server) paper(path string, of func(*ask) (papers.Paper, error)) {
	for ending, kind := range map[papers.Format]string{papers.PDF: "application/pdf", papers.HTML: "text/html; charset=utf-8"} {
		s.mux.HandleFunc("GET "+path+"/paper."+string(ending), func(w http.ResponseWriter, r *http.Request) {
			q := s.ask(w, r)
			p, err := of(q)
			var out bytes.Buffer
			if err == nil {
				err = papers.Write(&out, p, ending, papers.Options{Size: papers.Size(size(q))})
			}
			if err != nil {
				q.fail(err)
				return
			}
			if ending == papers.HTML { // it carries its own style and no script
				w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox")
			}
			w.Header().Set("Content-Type", kind)
			w.Write(out.Bytes())
		})
	}
}

// size is that of the paper asked for.
func size(q *ask) papers.Size {
	if strings.EqualFold(q.FormValue("size"), string(papers.Letter)) {
		return papers.Letter
	}
	return papers.A4
}

func (s *Server) paperPages() {
	s.paper("/batch/{id}", func(q *ask) (papers.Paper, error) {
		sheet, lines, err := workbench.ShowBatch(q.Context(), q.bench, q.PathValue("id"), s.o.Shop)
		if err != nil {
			return nil, err
		}
		if sheet == nil {
			return nil, noSheet(lines.Batch)
		}
		return sheet.Paper, nil
	})
	s.paper("/recipe/{id}", func(q *ask) (papers.Paper, error) {
		return workbench.RecipeCard(q.Context(), q.bench, q.PathValue("id"), s.o.Shop)
	})
	s.paper("/pour/{id}/certificate", func(q *ask) (papers.Paper, error) {
		return workbench.Certificate(q.Context(), q.bench, workbench.CertificateRequest{What: q.PathValue("id"), Shop: s.o.Shop})
	})
	s.paper("/labels/chips", func(q *ask) (papers.Paper, error) {
		return workbench.ChipLabels(q.Context(), q.bench, workbench.LabelsRequest{Resin: q.text("resin"), Heading: s.heading()})
	})
	s.paper("/labels/jars", func(q *ask) (papers.Paper, error) {
		return workbench.JarLabels(q.Context(), q.bench, workbench.LabelsRequest{Heading: s.heading()})
	})
}
