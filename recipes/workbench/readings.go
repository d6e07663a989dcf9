package workbench

import (
	"fmt"
	"io"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/figure"
)

// A File is a file of readings to take in, with what it cannot say of itself:
// layout, light and instrument, backing and thickness. Options.File and
// KnownPigments are filled in by the verb.
type File struct {
	Name    string // in messages
	Data    io.Reader
	Options readings.Options
	Sight   Sight
}

// Readings are readings of one piece: typed, or those of a file.
type Readings struct {
	Typed []string // L,a,b each
	File  *File
	Row   string // name of the piece in the file, where it holds several
	// Condition is the light and observer of typed readings. Observer 0 is 10
	// degrees.
	Condition   color.Condition
	Measurement color.Measurement // of typed readings
	// Instrument took the readings, by its name; of typed ones the one in use if empty,
	// of a file what it does not say itself.
	Instrument    string
	circumstances readings.Circumstances
}

// usualWay fills in how a reading was taken where nobody says: d/8 with the
// specular reflection included, 45/0 without (common practice, no source).
func usualWay(m color.Measurement) color.Measurement {
	return m.Usual()
}

// usualObserver fills in 10 degrees.
func usualObserver(c color.Condition) color.Condition {
	if c.Observer == 0 {
		c.Observer = color.TenDegree
	}
	return c
}

// checkedWay is usualWay for a request, refused if no instrument reads so.
func checkedWay(m color.Measurement) (color.Measurement, error) {
	m = usualWay(m)
	if err := m.Check(); err != nil {
		field := "specular"
		if _, unknown := color.ParseGeometry(string(m.Geometry)); unknown != nil {
			field = "geometry"
		}
		return m, invalid(field, "%s: %w", remedy.Input(field), err)
	}
	return m, nil
}

// options are those of the file, with the codes whose columns are loadings.
func (f File) options(pigments []string) (readings.Options, error) {
	o := f.Options
	o.File, o.KnownPigments = f.Name, pigments
	_, err := checkedWay(o.Measurement)
	return o, err
}

// table reads a file and remarks what was understood of it.
func (f File) table(pigments []string, read func(io.Reader, readings.Options) (readings.Table, error), say *Remarks) (readings.Table, error) {
	o, err := f.options(pigments)
	if err != nil {
		return readings.Table{}, err
	}
	t, err := read(f.Data, o)
	if err != nil {
		return t, err
	}
	for _, note := range t.Notes {
		say.say("%s: %s", f.Name, note)
	}
	told := map[string]bool{"": true}
	for i, r := range t.Rows {
		if text := assumed(r.Measurement); !told[text] && (len(r.Labs) > 0 || r.Spectrum != nil) {
			told[text] = true
			say.say("%s: %s; if not, say %s and %s", f.Name, text, remedy.Input("geometry"), remedy.Input("specular"))
		}
		t.Rows[i].Measurement = usualWay(r.Measurement)
		f.Sight.fill(&t.Rows[i].Circumstances)
	}
	for _, w := range t.Warnings {
		say.warn("%s", w.Error())
	}
	return t, nil
}

// pieces reads the pieces of a file.
func (f File) pieces(pigments []string, read func(io.Reader, readings.Options) (readings.Table, error), say *Remarks) ([]readings.Piece, error) {
	t, err := f.table(pigments, read, say)
	if err != nil {
		return nil, err
	}
	return readings.Pieces(f.Name, t.Rows)
}

// given refuses readings that are given in both ways or in none.
func (r Readings) given(what string) error {
	if (len(r.Typed) == 0) == (r.File == nil) {
		return invalid("lab", "%s: give readings, either %s (repeated) or %s", what, remedy.InputAs("lab", "L,a,b"), remedy.InputAs("file", "FILE"))
	}
	return nil
}

// rows are the readings of a piece of that name. Typed ones need a light.
func (r Readings) rows(what, name string, say *Remarks) ([]readings.Row, error) {
	if err := r.given(what); err != nil {
		return nil, err
	}
	if r.File != nil {
		return r.File.samples(r.Row, say)
	}
	if r.Condition.Illuminant == "" {
		return nil, invalid("illuminant", "%s: %s is missing; say under which light %s was read, such as %s %s", what, remedy.Input("illuminant"), remedy.Input("lab"), remedy.InputAs("illuminant", "D65"), remedy.InputAs("observer", "10"))
	}
	how, err := checkedWay(r.Measurement)
	if err != nil {
		return nil, err
	}
	rows := make([]readings.Row, len(r.Typed))
	for i, text := range r.Typed {
		lab, err := readings.Typed(text, usualObserver(r.Condition))
		if err != nil {
			return nil, invalid("lab", "%s %w", remedy.Input("lab"), err)
		}
		rows[i] = readings.Row{Line: i + 1, Name: name, Labs: []color.Lab{lab}, Measurement: how, Circumstances: r.circumstances}
	}
	return rows, nil
}

// samples are the readings of one piece in a file: of the one named, or of the
// only one.
func (f File) samples(name string, say *Remarks) ([]readings.Row, error) {
	t, err := f.table(nil, readings.Samples, say)
	if err != nil {
		return nil, err
	}
	var names []string
	byName := map[string][]readings.Row{}
	for _, r := range t.Rows {
		if byName[r.Name] == nil {
			names = append(names, r.Name)
		}
		byName[r.Name] = append(byName[r.Name], r)
	}
	const most = 40 // names in a line
	switch {
	case name != "" && byName[name] == nil:
		return nil, fmt.Errorf("%s: no reading is named %q; it has %s", f.Name, name, figure.List(names[:min(len(names), most)]))
	case name != "":
		return byName[name], nil
	case len(names) != 1:
		return nil, invalid("row", "%s: holds readings of %d pieces; say which with %s, one of %s", f.Name, len(names), remedy.Input("row"), figure.List(names[:min(len(names), most)]))
	}
	return t.Rows, nil
}
