package page

import (
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"sort"
	"strings"
	"sync"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/legible"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/workbench"
)

//go:embed html/*.html
var htmlFiles embed.FS

//go:embed asset/page.css
var pageCSS []byte

//go:embed asset/page.js
var pageJS []byte

// pages are parsed when the first is shown: most commands show none.
var pages = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(inPages).ParseFS(htmlFiles, "html/*.html"))
})

var inPages = template.FuncMap{
	"name": legible.Text,
	"say":  func(s string) string { return upperFirst(saying(s)) },
	"says": func(all []string) []string {
		return mapped(all, func(s string) string { return upperFirst(saying(s)) })
	},
	"remarks":  remarks,
	"two":      func(v figure.Number) string { return fmt.Sprintf("%.2f", float64(v)) },
	"three":    func(v figure.Number) string { return fmt.Sprintf("%.3f", float64(v)) },
	"signed":   func(v figure.Number) string { return fmt.Sprintf("%+.2f", float64(v)) },
	"de":       func(v float64) string { return fmt.Sprintf("%.2f", v) },
	"grams":    func(v figure.Number, step calibrate.Grams) string { return figure.Grams(v, step) },
	"short":    func(v figure.Number) string { return figure.Short(float64(v)) },
	"known":    known,
	"percent":  func(v figure.Number) string { return fmt.Sprintf("%.0f %%", 100*float64(v)) },
	"loadings": func(m map[string]figure.Number) string { return figure.Loadings(m) },
	"phrs":     func(m map[string]batch.PHR) string { return figure.Loadings(m) },
	"changed":  func(c, l map[string]figure.Number) string { return figure.Changes(c, l) },
	"swatch":   swatch,
	"split":    split,
	"tile":     tile,
	"path":     path,
	"list":     func(all []string) string { return legible.Text(figure.List(all)) },
	"upper":    upperFirst,
	"day":      func(at string) string { return at[:min(10, len(at))] },
	"count":    plural,
	"spread":   spread,
	"items":    func(m map[string]string) string { return pairs(m) },
	"lookback": func(c color.Lab) figure.Lab { return figure.LabOf(c) },
	"chipread": chipRead,
	"dict":     dict,
	"inc":      func(n int) int { return n + 1 },
	"has":      func(all []string, s string) bool { return slices.Contains(all, s) },
	"places":   func() []place { return menu },
	"first":    firstColor,
	"chipof":   chipOf,
	"openlot": func(l workbench.Lot) form {
		return button("/shelf/lot/open", "Use it", hidden("code", l.Code), hidden("lot", l.Lot))
	},
	"use": func(e workbench.Equipment) form {
		return button("/shelf/equipment/use", "Use it", hidden("item", e.Item), hidden("name", e.Name))
	},
	"leave":   func() form { return button("/leave", "Leave") },
	"closing": func(id string) form { return button("/links/close", "Close it", hidden("link", id)) },
	"bars":    bars,
	"risk":    func(r float64) figure.Number { return figure.Number(r) },
	"tenths":  func(v figure.Number) string { return fmt.Sprintf("%.1f %%", 100*float64(v)) },
	"moved":   func(kind string) string { return movements[kind] },
	"walled":  walled,
	"mixpath": mixPath,
	"mass":    func(m batch.Mass) string { return m.String() },
	"at":      func(m, step batch.Mass) string { return m.At(step) },
}

func mapped[A, B any](all []A, f func(A) B) []B {
	out := make([]B, len(all))
	for i, v := range all {
		out[i] = f(v)
	}
	return out
}

// movements are those of a jar or pail, in words.
var movements = map[string]string{archive.Tint: "stirred", archive.Draw: "drawn", archive.Correct: "corrected", archive.Count: "counted"}

// dict makes a map of pairs, to hand several values to a template.
func dict(pairs ...any) (map[string]any, error) {
	out := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		name, is := pairs[i].(string)
		if !is {
			return nil, fmt.Errorf("dict: %v is no name", pairs[i])
		}
		out[name] = pairs[i+1]
	}
	return out, nil
}

// pairs lists names by code.
func pairs(m map[string]string) string {
	var out []string
	for k, v := range m {
		out = append(out, k+" "+v)
	}
	sort.Strings(out)
	return legible.Text(figure.List(out))
}

// path is a path with names as its query: path "/target" "name" .Name.
func path(base string, query ...any) string {
	v := url.Values{}
	for i := 0; i+1 < len(query); i += 2 {
		if text := fmt.Sprint(query[i+1]); text != "" {
			v.Set(fmt.Sprint(query[i]), text)
		}
	}
	if len(v) == 0 {
		return base
	}
	return base + "?" + v.Encode()
}

// spread is how far readings lie apart.
func spread(r workbench.MeanReading) string {
	text := figure.Count(r.Readings, "reading")
	if r.Readings > 1 {
		text += fmt.Sprintf(", MCDM %.2f", float64(r.MCDM))
	}
	if r.Outlier != nil {
		text += fmt.Sprintf(", reading %d does not belong to the others", *r.Outlier)
	}
	return text
}

// screen is how a screen shows a colour, and whether it can.
func screen(lab figure.Lab, under string) (hex string, shown bool) {
	s, err := lab.Color(under).Swatch()
	if err != nil {
		return "#808080", false
	}
	return s.Hex(), s.InGamut
}

// swatch is a patch of a colour. What it is stands beside it in figures.
func swatch(lab figure.Lab, under string) template.HTML { return patch("swatch", lab, under) }

// tile is a large patch.
func tile(lab figure.Lab, under string) template.HTML { return patch("tile", lab, under) }

func patch(class string, lab figure.Lab, under string) template.HTML {
	hex, shown := screen(lab, under)
	mark := ""
	if !shown {
		mark = `<path d="M0 10L10 0V10Z" class="cut"/><title>the nearest a screen can show</title>`
	}
	return template.HTML(fmt.Sprintf(`<svg class="%s" viewBox="0 0 10 10" preserveAspectRatio="none" role="img" aria-label="%s"><rect width="10" height="10" fill="%s"/>%s</svg>`, class, hex, hex, mark))
}

// split is two colours edge to edge, without a line between.
func split(left, right figure.Lab, under string) template.HTML {
	a, _ := screen(left, under)
	b, _ := screen(right, under)
	return template.HTML(fmt.Sprintf(`<svg class="split" viewBox="0 0 20 10" preserveAspectRatio="none" role="img" aria-label="%s beside %s"><rect width="20" height="10" fill="%s"/><rect x="10" width="10" height="10" fill="%s"/></svg>`, a, b, a, b))
}

// chipRead is the colour a chip is known by, the first of what was read.
func chipRead(c workbench.Chip) *workbench.Color {
	switch r := c.Mean.SpectrumRepeat; {
	case len(c.Mean.Labs) > 0:
		return &workbench.Color{Under: c.Mean.Labs[0].Under.String(), Lab: figure.LabOf(c.Mean.Labs[0])}
	case r != nil:
		return &workbench.Color{Under: r.Mean.Under.String(), Lab: figure.LabOf(r.Mean)}
	}
	return nil
}

// routes are the pages.
func (s *Server) routes() {
	s.mux.HandleFunc("GET /asset/page.css", func(w http.ResponseWriter, _ *http.Request) { asset(w, "text/css; charset=utf-8", pageCSS) })
	s.mux.HandleFunc("GET /asset/page.js", func(w http.ResponseWriter, _ *http.Request) {
		asset(w, "text/javascript; charset=utf-8", pageJS)
	})
	s.mux.HandleFunc("GET "+changesPath, s.changes.serve)
	s.mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		q := s.ask(w, r)
		q.show(http.StatusNotFound, view{"failed", "There is no such page", []string{"Nothing is here; begin at Today."}})
	})
	s.gatePages()
	s.todayPages()
	s.shelfPages()
	s.chipPages()
	s.filePages()
	s.planPages()
	s.targetPages()
	s.paperPages()
	s.workPages()
	s.calibrationPages()
	s.matchPages()
	s.batchPages()
	s.pourPages()
	s.archivePages()
	s.clientPages()
	s.runPages()
	s.jarPages()
	s.equipmentPages()
}

// A place is a page of the menu, with the addresses below it.
type place struct {
	Name, Path string
	Also       []string
}

// Is tells whether an address belongs to the place.
func (p place) Is(path string) bool {
	return path == p.Path || slices.ContainsFunc(p.Also, func(a string) bool { return path == a || strings.HasPrefix(path, a+"/") })
}

var menu = []place{
	{"Today", "/", nil},
	{"Shelf", "/shelf", []string{"/resin", "/pigment", "/backing", "/scale", "/instrument", "/shelf", "/jars", "/jar"}},
	{"Plan", "/plan", []string{"/plan"}},
	{"Chips", "/chips", []string{"/chip", "/readings", "/file"}},
	{"Calibration", "/calibration", []string{"/calibration"}},
	{"Targets", "/targets", []string{"/target", "/match"}},
	{"Mix", "/mix", nil},
	{"Pours", "/pours", []string{"/pour", "/batch", "/correct"}},
	{"Runs", "/runs", []string{"/run"}},
	{"Archive", "/archive", []string{"/recipe", "/approval", "/links"}},
}

// firstColor is the colour a target is known by.
func firstColor(t workbench.Target) *workbench.PartColor {
	if len(t.Colors) > 0 {
		return &t.Colors[0]
	}
	return t.OfSpectra
}

// chipOf is the chip of a row, previewed or stored.
func chipOf(row any) workbench.Chip {
	switch c := row.(type) {
	case workbench.PreviewedChip:
		return c.Chip
	case workbench.Chip:
		return c
	}
	return workbench.Chip{}
}

// mixPath leads to a mixture to try.
func mixPath(resin, target, client string, loadings map[string]figure.Number) string {
	query := []any{"resin", resin, "target", target, "client", client}
	for code, phr := range loadings {
		query = append(query, "phr."+code, phrs(phr))
	}
	return path("/mix", query...)
}

// walled is the colour of a recipe on the wall of swatches.
func walled(r workbench.FoundAgain) *workbench.Color {
	switch {
	case r.Where != nil:
		return r.Where
	case len(r.Predicted) > 0:
		return &r.Predicted[0]
	}
	return nil
}
