package page

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/recipes/papers"
	"masstone/recipes/workbench"
)

// A drawn calibration is its charts, by name.
type drawn map[string][]byte

func (q *ask) fitForm() (form, error) {
	choose, _, err := q.resins()
	return newForm("Fit", "/fit", "Fit the chips", choose,
		pick("evidence", "Readings to fit", "all", choice{"all", "all that was read"}, choice{"spectra", "spectra alone"}, choice{"labs", "Lab under all lights"}, choice{"lab", "Lab under one light"}).more(),
		pick("layer", "Layer model", "", choice{"", "the likelier"}, choice{calibrate.KubelkaMunk, calibrate.KubelkaMunk}, choice{calibrate.ExactLayer, calibrate.ExactLayer}).more()), err
}

func (s *Server) calibrationPages() {
	s.get("/calibration", func(q *ask) (view, error) {
		choose, resin, err := q.resins()
		if err != nil {
			return view{}, err
		}
		v := struct {
			Choose, Fit form
			Resin       string
			All         workbench.CalibrationList
			Shown       *workbench.FitResult
			Charts      []string
			Main        workbench.FitResult
		}{Choose: looking("Calibration", "/calibration", "Show", choose), Resin: resin}
		if resin == "" {
			return view{"calibration", "Calibration", v}, nil
		}
		if v.Fit, err = q.fitForm(); err != nil {
			return view{}, err
		}
		if v.All, err = workbench.Calibrations(q.Context(), q.bench, resin); err != nil || len(v.All.Calibrations) == 0 {
			return view{"calibration", "Calibration", v}, err
		}
		shown, err := workbench.ShowCalibration(q.Context(), q.bench, workbench.CalibrationRequest{Resin: resin, Version: q.whole("version", 0)})
		if err != nil {
			return view{}, err
		}
		v.Shown = &shown
		return view{"calibration", "Calibration " + shown.Calibration, v}, nil
	})
	s.paper("/calibration/{resin}/{version}", func(q *ask) (papers.Paper, error) {
		version, err := versionOf(q.PathValue("version"))
		if err != nil {
			return nil, err
		}
		return calculated(q, func() (papers.FitReport, error) {
			return workbench.FitPaper(q.Context(), q.bench, workbench.FitPaperRequest{Resin: q.PathValue("resin"), Version: version, Shop: s.o.Shop})
		})
	})
	// a chart of a calibration; all of one are drawn the first time
	s.mux.HandleFunc("GET /calibration/{resin}/{version}/{chart}", func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		chart, is := strings.CutSuffix(q.PathValue("chart"), ".svg")
		all, err := s.draw(q, q.PathValue("resin"), q.PathValue("version"))
		if err != nil {
			q.fail(err)
			return
		}
		data, found := all[chart]
		if !is || !found {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; font-src data:; sandbox")
		asset(w, "image/svg+xml", data)
	})
	s.post("/fit", action{(*ask).fitForm, func(q *ask) (string, error) {
		r := workbench.FitRequest{Resin: q.text("resin"), Layer: q.text("layer"), Evidence: read(q, "evidence", calibrate.ParseEvidence)}
		if err := q.fault(); err != nil {
			return "", err
		}
		return s.begin(q, "Fit of "+r.Resin, func(w *work) (string, error) {
			v, err := workbench.Fit(w.ctx, w.bench, r)
			return path("/calibration", "resin", v.Resin, "version", v.Version), err
		}), nil
	}})
}

// versionOf is the version of a calibration that a path names.
func versionOf(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return 0, refusal{http.StatusNotFound, fmt.Sprintf("no calibration of version %q; give a number from 1", text)}
	}
	return n, nil
}

// draw gives the charts of a calibration, which never change.
func (s *Server) draw(q *ask, resin, version string) (drawn, error) {
	n, err := versionOf(version)
	if err != nil {
		return nil, err
	}
	name := fmt.Sprintf("charts %s v%d", resin, n)
	if all, is := result[drawn](s.kept, name); is {
		return all, nil
	}
	done, err := calculating(q.Context(), s.heavy)
	if err != nil {
		return nil, err
	}
	defer done()
	if all, is := result[drawn](s.kept, name); is { // drawn by another page meanwhile
		return all, nil
	}
	all := drawn{}
	_, err = workbench.ShowCalibration(q.Context(), q.bench, workbench.CalibrationRequest{Resin: resin, Version: n, Draw: func(name, format string, draw func(io.Writer) error) error {
		if format != "svg" {
			return q.Context().Err()
		}
		var out bytes.Buffer
		err := draw(&out)
		all[name] = out.Bytes()
		return err
	}})
	if err == nil {
		s.kept.set(name, all)
	}
	return all, err
}
