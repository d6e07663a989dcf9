package readings

import (
	"fmt"
	"io"
	"sort"
	"strings"

	"masstone/color"
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
		p.whole(fmt.Sprintf("says %s %s, but --%s says %s", what, file, flag, option), "leave the option out, or correct the file")
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

// plan is a header understood as a whole.
type plan struct {
	columns []column
	sets    []labSet
	bands   []band // by wavelength
	step    int
	where   map[role]int // column of each role that comes once
}

type labSet struct {
	key     setKey
	columns [3]int
}

type band struct{ nm, column int }

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
				hint += ", or say --repeats if these are readings of one piece"
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

// planOf understands the header row and reports every header that means
// nothing, comes twice, or is missing.
func planOf(s *sheet, o *Options, k kind, p *problems) *plan {
	pl := &plan{where: map[role]int{}, columns: make([]column, len(s.header))}
	seen := map[string]string{}
	once := func(what, header string) bool {
		if other, dup := seen[what]; dup {
			p.add(s.headerLine, "", header, fmt.Sprintf("means the same as column %s", oneLine(other, 40)), fmt.Sprintf("keep one, or --map %q", header+"=ignore"))
			return false
		}
		seen[what] = header
		return true
	}
	sets := map[setKey]*labSet{}
	for i, h := range s.header {
		c := understand(h, o)
		pl.columns[i] = c
		switch c.role {
		case unknown:
			if h == "" {
				if s.filled(i) {
					p.add(s.headerLine, "", fmt.Sprintf("%d", i+1), "has no header", "name it or delete the column")
				}
				pl.columns[i].role = ignored
				continue
			}
			p.add(s.headerLine, "", h, "is unknown", unknownHint(h, o))
		case ignored:
		case pigmentColumn:
			once("pigment "+c.pigment, h)
		case labColumn:
			if !once(fmt.Sprintf("lab %v %d", c.set, c.axis), h) {
				continue
			}
			set, ok := sets[c.set]
			if !ok {
				set = &labSet{key: c.set, columns: [3]int{-1, -1, -1}}
				sets[c.set] = set
				pl.sets = append(pl.sets, labSet{key: c.set})
			}
			set.columns[c.axis] = i
		case bandColumn:
			if once(fmt.Sprintf("band %d", c.nm), h) {
				pl.bands = append(pl.bands, band{c.nm, i})
			}
		default:
			if once(fmt.Sprintf("role %d", c.role), h) {
				pl.where[c.role] = i
			}
		}
	}
	for i := range pl.sets {
		pl.sets[i] = *sets[pl.sets[i].key]
	}
	pl.chooseName()
	pl.oneSpecular(s, p)
	pl.checkLabs(s, o, p)
	pl.checkBands(s, p)
	pl.checkNeeded(s, o, k, p)
	return pl
}

// chooseName settles which column names the rows, since exports number their
// rows beside naming them; the others are not used.
func (pl *plan) chooseName() {
	for _, r := range []role{nameColumn, sampleColumn, placeColumn, idColumn} {
		at, ok := pl.where[r]
		if !ok {
			continue
		}
		delete(pl.where, r)
		if pl.has(nameColumn) {
			pl.columns[at] = column{role: ignored} // no news in a row number
			continue
		}
		pl.where[nameColumn] = at
	}
}

// oneSpecular refuses readings of both specular modes side by side, since a row
// has one way of measuring.
func (pl *plan) oneSpecular(s *sheet, p *problems) {
	mode := setKey{}.specular
	for _, set := range pl.sets {
		if mode != "" && set.key.specular != mode {
			p.add(s.headerLine, "", s.header[max(set.columns[0], set.columns[1], set.columns[2])], "is of another specular mode than the set before", "keep one mode per file: --map the other columns to ignore")
			return
		}
		mode = set.key.specular
	}
}

func unknownHint(h string, o *Options) string {
	hint := ""
	if near, ok := nearest(h, o.KnownPigments); ok {
		hint = "did you mean " + near + "? "
	}
	return hint + fmt.Sprintf("a pigment must be imported first; else --map %q or --map %q", h+"=COLUMN", h+"=ignore")
}

// checkLabs wants three columns per set and a light for each.
func (pl *plan) checkLabs(s *sheet, o *Options, p *problems) {
	for _, set := range pl.sets {
		for axis, at := range set.columns {
			if at >= 0 {
				continue
			}
			with := ""
			for _, other := range set.columns {
				if other >= 0 {
					with = s.header[other]
				}
			}
			p.add(s.headerLine, "", with, "has no "+[...]string{"L*", "a*", "b*"}[axis]+" column beside it", "a colour needs all of L, a, b; add the missing column")
		}
		if set.key.illuminant == "" && o.Condition.Illuminant == "" && !pl.has(illuminantColumn) {
			p.add(s.headerLine, "", s.header[max(set.columns[0], 0)], "does not say its illuminant", "add --illuminant D65 --observer 10, or name the columns L_D65,a_D65,b_D65")
		}
	}
}

// checkBands wants one even grid of 5, 10 or 20 nm that covers 400 to 700 nm.
func (pl *plan) checkBands(s *sheet, p *problems) {
	if len(pl.bands) == 0 {
		return
	}
	sort.Slice(pl.bands, func(i, j int) bool { return pl.bands[i].nm < pl.bands[j].nm })
	header := func(i int) string { return s.header[pl.bands[i].column] }
	if len(pl.bands) == 1 {
		p.add(s.headerLine, "", header(0), "is a single band", "a spectrum needs 400 to 700 nm in steps of 5, 10 or 20 nm")
		return
	}
	pl.step = pl.bands[1].nm - pl.bands[0].nm
	for i := 2; i < len(pl.bands); i++ {
		if pl.bands[i].nm-pl.bands[i-1].nm != pl.step {
			p.add(s.headerLine, "", header(i), fmt.Sprintf("follows %d nm, out of step with the %d nm before", pl.bands[i-1].nm, pl.step), "a band is missing or misnamed; bands must be evenly spaced")
			pl.step = 0
			return
		}
	}
	first, last := pl.bands[0].nm, pl.bands[len(pl.bands)-1].nm
	if pl.step != 5 && pl.step != 10 && pl.step != 20 {
		p.add(s.headerLine, "", header(0), fmt.Sprintf("starts bands %d nm apart", pl.step), "export the spectrum at 5, 10 or 20 nm")
		pl.step = 0
	} else if first > color.FirstNM || last < color.LastNM {
		p.add(s.headerLine, "", header(0), fmt.Sprintf("starts bands of %d to %d nm", first, last), "the spectrum must cover 400 to 700 nm")
		pl.step = 0
	} else if (color.FirstNM-first)%pl.step != 0 {
		p.add(s.headerLine, "", header(0), fmt.Sprintf("starts bands that pass by %d nm", color.FirstNM), "export the spectrum on even bands")
		pl.step = 0
	}
}

// checkNeeded reports columns the kind cannot do without.
func (pl *plan) checkNeeded(s *sheet, o *Options, k kind, p *problems) {
	miss := func(problem, hint string) { p.add(s.headerLine, "", "", problem, hint) }
	if !pl.has(nameColumn) {
		miss("no column names the "+k.noun(), "add a column "+k.noun())
	}
	pigments := 0
	for _, c := range pl.columns {
		if c.role == pigmentColumn {
			pigments++
		}
	}
	if pigments == 0 && k != samples {
		miss("no column is a known pigment", "import the pigments first, then use their codes as headers")
	}
	if len(pl.sets) == 0 && len(pl.bands) == 0 && k != mixtures {
		miss("no column holds a reading", "add L_D65,a_D65,b_D65 or R400...R700")
	}
	if k == chips {
		if !pl.has(backingColumn) && o.Backing == "" {
			miss("no column backing", "add it (white, black, ...), or say --over for the whole file")
		}
		if !pl.has(thicknessColumn) && o.ThicknessMM == 0 {
			miss("no column thickness_mm", "add it, or say --thickness for the whole file")
		}
	}
}

func (pl *plan) has(r role) bool { _, ok := pl.where[r]; return ok }

// numeric lists the columns that hold numbers.
func (pl *plan) numeric() []int {
	var out []int
	for i, c := range pl.columns {
		switch c.role {
		case thicknessColumn, pigmentColumn, labColumn, bandColumn, chipGramsColumn, scaleColumn:
			out = append(out, i)
		}
	}
	return out
}

// percentOf finds whether the bands are percent: by their headers, else by
// size, since nothing reflects more than 1.2 times the perfect diffuser. Rows
// of both kinds are refused.
func percentOf(s *sheet, pl *plan, decimal rune, o *Options) (bool, error) {
	if len(pl.bands) == 0 {
		return false, nil
	}
	if o.Percent != nil {
		return *o.Percent, nil
	}
	if s.fraction {
		return false, nil
	}
	marked := 0
	for _, b := range pl.bands {
		if pl.columns[b.column].percent {
			marked++
		}
	}
	if marked == len(pl.bands) {
		return true, nil
	}
	large, small := 0, 0
	firstLarge := 0
	values := make([]float64, 0, len(pl.bands))
	for _, r := range s.records {
		values = values[:0]
		for _, b := range pl.bands {
			if b.column < len(r.cells) {
				if v, bad := number(r.cells[b.column], decimal); bad == "" {
					values = append(values, v)
				}
			}
		}
		if len(values) == 0 {
			continue
		}
		// The median, so that one slipped cell does not speak for its row.
		sort.Float64s(values)
		if values[len(values)/2] > maxReflectance {
			if large++; large == 1 {
				firstLarge = r.line
			}
		} else {
			small++
		}
	}
	switch {
	case large == 0:
		return false, nil
	case small == 0:
		return true, nil
	}
	return false, &RowError{File: o.File, Row: firstLarge, Problem: fmt.Sprintf("the spectra of %d rows look like percent, those of %d like fractions", large, small),
		Hint: "settle it with --percent or --percent=false"}
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
