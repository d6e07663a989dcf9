package readings

import (
	"fmt"
	"io"
	"strings"

	"masstone/color"
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
	if g := s.measurement.Geometry; g != "" {
		if o.Measurement.Geometry != "" && o.Measurement.Geometry != g {
			contradict("geometry", string(g), string(o.Measurement.Geometry), "geometry")
		}
		out.Measurement.Geometry = g
	}
	if m := s.measurement.Specular; m != "" {
		if o.Measurement.Specular != "" && o.Measurement.Specular != m {
			contradict("specular", string(m), string(o.Measurement.Specular), "specular")
		}
		out.Measurement.Specular = m
	}
	if out.Backing == "" {
		out.Backing = s.backing
	}
	return &out
}

// statedUnit is stated for the unit of reflectance, which cells state too.
func (s *sheet) statedUnit(o *Options, p *problems) *Options {
	out := *o
	if out.Percent == nil {
		out.Percent = s.statedPercent
	} else if s.statedPercent != nil && *s.statedPercent != *o.Percent {
		p.whole(fmt.Sprintf("says reflectance is %s, but %s says %t", unitName(*s.statedPercent), remedy.Input("percent"), *o.Percent), "leave the option out, or correct the file")
	}
	return &out
}

func unitName(percent bool) string {
	if percent {
		return "percent"
	}
	return "fractions"
}

// headedUnit takes the unit that the headers of all bands state.
func (s *sheet) headedUnit(pl *plan) {
	for _, b := range pl.bands {
		if !pl.columns[b.column].percent {
			return
		}
	}
	if len(pl.bands) > 0 {
		s.percent(true)
	}
}

// tabulate turns a sheet into a table of one kind, or tells everything that
// is wrong with it.
func tabulate(s *sheet, o *Options, k kind) (Table, error) {
	p := &problems{file: o.File, header: s.headerLine}
	given := o
	o = s.stated(o, p)
	s.splitStandards(o)
	pl := planOf(s, o, k, p)
	planned := p.count()
	s.settleUnits(pl)
	s.headedUnit(pl)
	o = s.statedUnit(o, p)
	s.ask(given, len(pl.sets) > 0, len(pl.bands) > 0, p)
	pl.checkGiven(s, o, p)
	before := p.count()
	if o = s.takeAngles(pl, o, p); p.count() == before {
		s.choose(pl, given, p)
	}
	s.askAngles(given, p)
	if p.count() > planned { // every row would say it again
		return Table{}, p.err()
	}
	apart := p.count()
	if s.tellApart(pl, p); p.count() > apart {
		return Table{}, p.err()
	}
	if k != mixtures {
		if s.dropSummaries(pl); len(s.records) == 0 {
			p.whole("holds rows of statistics alone", "export the readings themselves; a piece of such a name needs another")
			return Table{}, p.err()
		}
	}
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
	rr := &rowReader{o: o, plan: pl, sheet: s, kind: k, header: s.header, decimal: decimal, percent: percent, separator: s.separator, problems: p}
	rr.wayAt, rr.way = pl.way()
	first := map[string]int{}
	sane := newChecker(p)
	for i, rec := range s.records {
		found := p.count()
		if s.measured != nil {
			rr.how = s.measured[i]
		}
		rr.taken = s.circumstances
		if s.taken != nil {
			rr.taken = s.taken[i].or(s.circumstances)
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
	if o.Angles != "" {
		t.Warnings = append(t.Warnings, &RowError{File: o.File, Problem: "readings of geometry " + o.Angles + " are taken as 45/0, the nearest that is known here", Hint: "near the gloss a part reads lighter; export d/8 or 45/0 where the instrument has it"})
	}
	if pl.step == 20 {
		t.Warnings = append(t.Warnings, &RowError{File: o.File, Row: s.headerLine, Problem: wideBands, Hint: "export 10 nm where colour under FL lights counts"})
	}
	t.Notes = append(s.notes, confirmation(s, pl, decimal, percent, k, t.Rows))
	t.Notes = append(t.Notes, unused(pl)...)
	return t, nil
}

// wideBands is said of bands 20 nm apart. The figures are those of the 48 real
// paints of testdata/real_pigments with every second band left out.
const wideBands = "bands 20 nm apart pass over the lines of fluorescent lamps: on 48 real paints their Lab differs from that of 10 nm by up to CIEDE2000 1.2 under FL11 and 0.5 under other lights"

// nameIn is the name of a record, empty where it has none.
func (pl *plan) nameIn(r record) string {
	if at, ok := pl.where[nameColumn]; ok && at < len(r.cells) {
		return r.cells[at]
	}
	return ""
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
	for _, set := range pl.sets {
		if set.in != inLab {
			parts = append(parts, "brought from "+set.in.String())
			break
		}
	}
	if n := len(pl.bands); n > 0 {
		parts = append(parts, fmt.Sprintf("reflectance %d-%d nm by %d as %s", pl.bands[0].nm, pl.bands[n-1].nm, pl.step, unitName(percent)))
	}
	return strings.Join(append(parts, howRead(rows)...), "; ")
}

// howRead lists what is said of the ways and circumstances of the readings.
func howRead(rows []Row) []string {
	const most = 3
	var out []string
	seen := map[string]bool{}
	add := func(text string) {
		if !seen[text] {
			seen[text] = true
			out = append(out, text)
		}
	}
	for _, r := range rows {
		if r.Measurement != (color.Measurement{}) && (len(r.Labs) > 0 || r.Spectrum != nil) {
			add("read " + r.Measurement.String())
		}
	}
	for _, r := range rows {
		if text := r.Circumstances.String(); text != "" {
			if len(out) == most && !seen[text] {
				out = append(out, "others read otherwise")
				break
			}
			add(text)
		}
	}
	return out
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
