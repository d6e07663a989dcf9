package page

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"masstone/calibrate"
	"masstone/cmd/masstone/typed"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/batch"
	"masstone/recipes/workbench"
)

// An ask is a request of a person: what a form or an address says, read field by
// field. What cannot be read is remembered, so that all of it is told at once.
type ask struct {
	*http.Request
	s      *Server
	w      http.ResponseWriter
	bench  *workbench.Bench // with this person at it
	who    string
	head   int64 // newest line of the log before the page was made
	wrong  faults
	remark workbench.Remarks
}

// faults are what is wrong with what was typed, by field.
type faults struct {
	in   []string
	what map[string]string
}

func (f *faults) Error() string { return f.told(onPage{}) }

// told is what is wrong, a line for each field.
func (f *faults) told(o onPage) string {
	var lines []string
	for _, name := range f.in {
		lines = append(lines, fmt.Sprintf("%s %s", o.labelled(name), f.what[name]))
	}
	return strings.Join(lines, "\n")
}

func (s *Server) ask(w http.ResponseWriter, r *http.Request) *ask {
	q := &ask{Request: r, s: s, w: w, who: s.who(r)}
	q.bench = s.o.Bench.With(workbench.Options{Now: s.stamps, Who: q.who, Program: s.o.Program + ", page from " + from(r)})
	if r.Method == http.MethodGet { // what is stored while the page is made is news to it
		q.head, _ = s.changes.newest(r.Context())
	}
	return q
}

// parse reads the form.
func (q *ask) parse() error {
	kind, _, _ := mime.ParseMediaType(q.Header.Get("Content-Type"))
	if kind == "multipart/form-data" {
		return q.ParseMultipartForm(mostFile)
	}
	return q.ParseForm()
}

// unread is a form that cannot be read.
func unread(err error) error {
	var late *http.MaxBytesError
	if errors.As(err, &late) {
		return refusal{http.StatusRequestEntityTooLarge, fmt.Sprintf("what was sent is larger than the %d KB that this takes; nothing was stored", late.Limit>>10)}
	}
	return refusal{http.StatusBadRequest, "the form cannot be read; open its page again and send it from there"}
}

func (q *ask) blame(name string, err error) {
	if q.wrong.what == nil {
		q.wrong.what = map[string]string{}
	}
	if _, told := q.wrong.what[name]; !told {
		q.wrong.in = append(q.wrong.in, name)
		q.wrong.what[name] = err.Error()
	}
}

// fault is what is wrong with what was typed so far, nil for nothing.
func (q *ask) fault() error {
	if len(q.wrong.in) == 0 {
		return nil
	}
	return &q.wrong
}

func (q *ask) text(name string) string { return strings.TrimSpace(q.FormValue(name)) }

func (q *ask) tick(name string) bool { return q.FormValue(name) != "" }

// list is what was ticked under a name.
func (q *ask) list(name string) []string {
	q.FormValue(name) // reads the form
	return q.Form[name]
}

// number reads a number of a measure, 0 if nothing was typed.
func (q *ask) number(name string, m typed.Measure) float64 {
	text := q.text(name)
	if text == "" {
		return 0
	}
	v, err := m.Parse(text)
	if err != nil {
		q.blame(name, err)
	}
	return v
}

// optional is a number of which 0 is a value and not the same as nothing.
func (q *ask) optional(name string, m typed.Measure) *float64 {
	if q.text(name) == "" {
		return nil
	}
	v := q.number(name, m)
	return &v
}

func (q *ask) grams(name string) calibrate.Grams {
	return calibrate.Grams(q.number(name, typed.Grams))
}

func (q *ask) whole(name string, usual int) int {
	text := q.text(name)
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 || n > 1e6 {
		q.blame(name, errors.New("is no whole number this takes; write it as 4"))
	}
	return n
}

func (q *ask) minutes(name string) time.Duration {
	text := q.text(name)
	if text == "" {
		return 0
	}
	d, err := typed.Minutes(text)
	if err != nil {
		q.blame(name, err)
	}
	return d
}

// read reads a field by a function of another package.
func read[T any](q *ask, name string, parse func(string) (T, error)) T {
	var none T
	text := q.text(name)
	if text == "" {
		return none
	}
	v, err := parse(text)
	if err != nil {
		q.blame(name, err)
	}
	return v
}

// loadings reads CODE=PHR,..., and a field for each code where there are some.
func (q *ask) loadings(name string) map[string]calibrate.PHR {
	out := map[string]calibrate.PHR{}
	if all := q.text(name); all != "" {
		if err := typed.Loadings(out, typed.PHR, all); err != nil {
			q.blame(name, err)
		}
	}
	q.FormValue(name)
	for field, values := range q.Form {
		code, is := strings.CutPrefix(field, name+".")
		if !is || strings.TrimSpace(values[0]) == "" {
			continue
		}
		v, err := typed.PHR.Parse(values[0])
		if _, twice := out[code]; err == nil && twice {
			err = fmt.Errorf("names %s twice; give its sum once", code)
		}
		if err != nil {
			q.blame(field, err)
			continue
		}
		out[code] = calibrate.PHR(v)
	}
	for code, v := range out {
		if v == 0 {
			delete(out, code)
		}
	}
	return out
}

// shown reads what the scale showed of items: fields such as s.WH.
func (q *ask) shown(prefix string) batch.Poured {
	q.FormValue(prefix)
	out := batch.Poured{}
	for field, values := range q.Form {
		item, is := strings.CutPrefix(field, prefix+".")
		if !is || strings.TrimSpace(values[0]) == "" {
			continue
		}
		v, err := typed.OnScale.Parse(values[0])
		if err != nil {
			q.blame(field, err)
			continue
		}
		out[item] = batch.Grams(v)
	}
	return out
}

// labs are the typed readings, a field each or several in one, line by line.
func (q *ask) labs() []string {
	var out []string
	for _, field := range q.list("lab") {
		for line := range strings.Lines(field) {
			if line = strings.TrimSpace(line); line != "" {
				out = append(out, line)
			}
		}
	}
	return out
}

// condition is the light and observer of typed readings.
func (q *ask) condition() color.Condition {
	text := q.text("illuminant")
	if text == "" {
		return color.Condition{}
	}
	if c, err := color.ParseCondition(text); err == nil {
		return c
	}
	return color.Condition{Illuminant: read(q, "illuminant", color.ParseIlluminant), Observer: color.TenDegree}
}

// measured is how the pieces were read, as far as a person says it.
func (q *ask) measured() color.Measurement {
	return color.Measurement{Geometry: read(q, "geometry", color.ParseGeometry), Specular: read(q, "specular", color.ParseSpecular)}
}

// An upload is a file that was sent, kept until it is stored or forgotten. Its
// name is text for messages and leads nowhere.
type upload struct {
	Name string
	Data []byte
}

// upload reads the file of a field, nil if none was chosen.
func (q *ask) upload(name string) (*upload, error) {
	if q.MultipartForm == nil || len(q.MultipartForm.File[name]) == 0 {
		return nil, nil
	}
	head := q.MultipartForm.File[name][0]
	if head.Filename == "" && head.Size == 0 {
		return nil, nil
	}
	f, err := head.Open()
	if err != nil {
		return nil, fmt.Errorf("the file cannot be read (%w); choose it again", err)
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	return &upload{filepath.Base(head.Filename), data}, err
}

// file is a file of readings with what the form says of it.
func (q *ask) file(u *upload) workbench.File {
	c := q.condition()
	return workbench.File{Name: u.Name, Data: bytes.NewReader(u.Data), Options: readings.Options{File: u.Name, Condition: c, Observer: c.Observer, Measurement: q.measured(),
		Backing: q.text("over"), ThicknessMM: q.number("thickness", typed.MM), Sheet: q.text("sheet"), Repeats: q.tick("repeats"), Mode: strings.ToUpper(q.text("m-condition"))}, Sight: workbench.Sight{ApertureMM: q.number("aperture-mm", typed.MM)}}
}

// show answers with a page.
func (q *ask) show(code int, v view) {
	if to, is := v.data.(string); is && v.name == "moved" {
		http.Redirect(q.w, q.Request, to, http.StatusSeeOther)
		return
	}
	var out bytes.Buffer
	where, err := q.here(v)
	if err == nil {
		err = pages().ExecuteTemplate(&out, v.name, where)
	}
	if err != nil {
		q.s.o.Log("page %s: %v", v.name, err)
		q.s.refuse(q.w, q.Request, http.StatusInternalServerError, "the page cannot be shown; please report it")
		return
	}
	q.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	q.w.WriteHeader(code)
	q.w.Write(out.Bytes())
}

// fail answers with what is wrong and what to do.
func (q *ask) fail(err error) {
	code := status(err)
	if code == http.StatusInternalServerError {
		q.s.o.Log("%s %s: %v", q.Method, q.URL.Path, err)
	}
	q.show(code, view{"failed", "That did not work", worded(err)})
}

// surroundings are what every page is given.
type surroundings struct {
	Title, Who, Path string
	Named            bool // people say their names here
	Data             any
	Head             int64 // newest line of the log
	Bench            string
}

// Inside tells whether the page is for somebody who was let in.
func (s surroundings) Inside() bool { return !s.Named || s.Who != "" }

func (q *ask) here(v view) (surroundings, error) {
	head, err := q.head, error(nil)
	if head == 0 { // an answer to a form knows of its own change
		head, err = q.s.changes.newest(q.Context())
	}
	return surroundings{v.title, q.who, q.URL.Path, q.s.gate != nil, v.data, head, q.bench.Name()}, err
}

// asset answers with a file of the program.
func asset(w http.ResponseWriter, kind string, data []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "no-cache")
	w.Write(data)
}
