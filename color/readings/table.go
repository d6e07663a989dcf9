package readings

import (
	"fmt"
	"io"
	"strings"

	"masstone/color/remedy"
)

// kind is what the rows of a table are.
type kind int

const (
	chips kind = iota
	mixtures
	samples
)

// noun is what a row of the kind is called in messages.
func (k kind) noun() string { return [...]string{"chip", "mix", "sample"}[k] }

// Chips reads calibration chips: a name, a backing, a thickness, one column of
// phr per pigment, and Lab sets, bands or both. The error is an *Errors with
// one line per bad cell, and then nothing is returned.
func Chips(r io.Reader, o Options) (Table, error) { return read(r, o, chips) }

// Mixtures reads loadings to predict: a name and pigment columns; backing,
// thickness, Lab and bands may be missing. Errors as for Chips.
func Mixtures(r io.Reader, o Options) (Table, error) { return read(r, o, mixtures) }

// Samples reads pieces of unknown loading, such as a part to match, a backing
// or a poured batch: a name, and Lab sets, bands or both. Rows of one name are
// several readings of one piece; see Group. Errors as for Chips.
func Samples(r io.Reader, o Options) (Table, error) {
	o.Repeats = true
	return read(r, o, samples)
}

func read(r io.Reader, o Options, k kind) (Table, error) {
	s, err := open(r, &o)
	if err != nil {
		return Table{}, wrap(err, o.File)
	}
	return tabulate(s, &o, k)
}

// stated completes the options by what the file says of itself as a whole. An
// option that contradicts the file is refused: one of the two is wrong.
func (s *sheet) stated(o *Options, p *problems) *Options {
	out := *o
	contradict := func(what, file, option, flag string) {
		p.whole(fmt.Sprintf("says %s %s, but %s says %s", what, file, remedy.Input(flag), option), "leave the option out, or correct the file")
	}
	if i := s.under.Illuminant; i != "" {
		if o.Condition.Illuminant != "" && o.Condition.Illuminant != i {
			contradict("illuminant", string(i), string(o.Condition.Illuminant), "illuminant")
		}
		out.Condition.Illuminant = i
	}
	if v := s.under.Observer; v != 0 {
		if given := max(o.Condition.Observer, o.Observer); given != 0 && given != v {
			contradict("observer", fmt.Sprint(int(v)), fmt.Sprint(int(given)), "observer")
		}
		out.Condition.Observer, out.Observer = v, v
	}
	if s.measurement.Geometry != "" {
		out.Measurement.Geometry = s.measurement.Geometry
	}
	if s.measurement.Specular != "" {
		out.Measurement.Specular = s.measurement.Specular
	}
	if out.Backing == "" {
		out.Backing = s.backing
	}
	return &out
}

// tabulate turns a sheet into a table of one kind, or tells everything that
// is wrong with it.
func tabulate(s *sheet, o *Options, k kind) (Table, error) {
	p := &problems{file: o.File}
	o = s.stated(o, p)
	pl := planOf(s, o, k, p)
	decimal, err := decimalOf(s, pl.numeric(), false, o)
	if err != nil {
		p.join(err)
		return Table{}, p.err()
	}
	percent, err := percentOf(s, pl, decimal, o)
	if err != nil {
		p.join(err)
		return Table{}, p.err()
	}

	t := Table{Rows: make([]Row, 0, len(s.records))}
	for _, c := range pl.columns {
		if c.role == pigmentColumn {
			t.Pigments = append(t.Pigments, c.pigment)
		}
	}
	rr := &rowReader{o: o, plan: pl, kind: k, header: s.header, decimal: decimal, percent: percent, separator: s.separator, problems: p}
	first := map[string]int{}
	sane := newChecker(p)
	for i, rec := range s.records {
		found := p.count()
		if s.measured != nil {
			rr.how = s.measured[i]
		}
		row := rr.read(rec)
		if k != mixtures && p.count() == 0 && len(row.Labs) == 0 && row.Spectrum == nil {
			p.add(rec.line, row.Name, "", "holds no reading", "read the piece, or delete the row")
		}
		if p.count() == found {
			sane.check(row)
		}
		if line, seen := first[row.Name]; seen && row.Name != "" && !o.Repeats {
			hint := "give each " + k.noun() + " its own name"
			if k == chips {
				hint += ", or say " + remedy.Input("repeats") + " if these are readings of one piece"
			}
			p.add(rec.line, row.Name, "", fmt.Sprintf("the name already stands in row %d", line), hint)
		} else if !seen {
			first[row.Name] = rec.line
		}
		t.Rows = append(t.Rows, row)
	}
	if err := p.err(); err != nil {
		return Table{}, err
	}
	t.Warnings = sane.finish()
	t.Notes = append(s.notes, confirmation(s, pl, decimal, percent, k, t.Rows))
	t.Notes = append(t.Notes, unused(pl)...)
	return t, nil
}

// confirmation says in one line how the file was understood.
func confirmation(s *sheet, pl *plan, decimal rune, percent bool, k kind, rows []Row) string {
	plural := map[kind]string{chips: "chips", mixtures: "mixtures", samples: "readings"}[k]
	parts := []string{fmt.Sprintf("%d %s", len(rows), plural)}
	if len(rows) == 1 {
		parts[0] = "1 " + k.noun()
	}
	if s.layout != "" {
		parts = append(parts, s.layout)
	}
	if s.decimal == 0 {
		if decimal == ',' {
			parts = append(parts, "decimal comma")
		} else if s.separator != 0 {
			parts = append(parts, "decimal point")
		}
	}
	under := map[string]bool{}
	var lights []string
	for _, r := range rows {
		for _, l := range r.Labs {
			if c := l.Under.String(); !under[c] {
				under[c] = true
				lights = append(lights, c)
			}
		}
	}
	if len(lights) > 0 {
		parts = append(parts, "Lab under "+strings.Join(lights, ", "))
	}
	if n := len(pl.bands); n > 0 {
		unit := "fractions"
		if percent {
			unit = "percent"
		}
		parts = append(parts, fmt.Sprintf("reflectance %d-%d nm by %d as %s", pl.bands[0].nm, pl.bands[n-1].nm, pl.step, unit))
	}
	return strings.Join(parts, "; ")
}

func unused(pl *plan) []string {
	var names []string
	for _, c := range pl.columns {
		if c.role == ignored && c.header != "" {
			names = append(names, oneLine(c.header, 40))
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{"columns not used: " + strings.Join(names, ", ")}
}
