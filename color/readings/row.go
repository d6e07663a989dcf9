package readings

import (
	"fmt"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
)

// Bounds of what a row may say. Reflectance factors above 1 belong to
// brightened surfaces; beyond 1.2 the unit is wrong. From memory.
const (
	maxReflectance = 1.2
	maxLoading     = 100.0 // phr: the sum cannot exceed the resin it is counted on
	maxThicknessMM = 200.0
	maxChroma      = 200.0 // |a*|, |b*|; the exact limit is the colour solid's
	maxGrams       = 100_000.0
	notRead        = "-" // stands in a reading's cells when it was not taken
)

// rowReader reads the records of one sheet.
type rowReader struct {
	o         *Options
	plan      *plan
	kind      kind
	header    []string
	decimal   rune
	percent   bool
	separator rune // of delimited text, else 0
	problems  *problems
	sheet     *sheet
	way       setKey            // what the headers of readings say
	wayAt     int               // column that does
	how       color.Measurement // what the format says of the record at hand
	taken     Circumstances     // likewise
	line      int               // of the record at hand
	name      string            // of the record at hand
	cells     []string
}

func (r *rowReader) bad(at int, problem, hint string) {
	r.problems.add(r.line, r.name, r.header[at], problem, hint)
}

// text gives the cell of a role that comes once, empty when there is none.
func (r *rowReader) text(of role) string {
	if i, ok := r.plan.where[of]; ok && i < len(r.cells) {
		return r.cells[i]
	}
	return ""
}

// value reads a numeric cell and reports it when it is empty or no number.
func (r *rowReader) value(at int, ifEmpty string) (float64, bool) {
	cell := r.cells[at]
	if cell == "" {
		r.bad(at, "is empty", ifEmpty)
		return 0, false
	}
	v, problem := number(cell, r.decimal)
	if problem != "" {
		hint := "write a plain number"
		if r.decimal == '.' && strings.Contains(cell, ",") {
			hint = "a decimal comma? write a point, or say " + remedy.InputAs("decimal", ",")
		} else if r.decimal == ',' && strings.Contains(cell, ".") {
			hint = "a decimal point? write a comma, or say " + remedy.InputAs("decimal", ".")
		}
		r.bad(at, problem, hint)
		return 0, false
	}
	return v, true
}

// read turns one record into a row; what is wrong goes to the problems.
func (r *rowReader) read(rec record) Row {
	r.line, r.cells, r.name = rec.line, rec.cells, ""
	if r.separator != 0 {
	}
	row := Row{Line: rec.line, Backing: r.o.Backing, ThicknessMM: r.o.ThicknessMM, Measurement: r.o.Measurement}
	r.name = r.text(nameColumn)
	row.Name = tidy(r.name, 200)
	if len(r.cells) != len(r.header) && !r.fit() {
		return row
	}
	if at, ok := r.plan.where[nameColumn]; ok && row.Name == "" {
		r.bad(at, "is empty", "name the "+r.kind.noun())
	}
	if at, ok := r.plan.where[backingColumn]; ok {
		if row.Backing = tidy(r.cells[at], 100); row.Backing == "" {
			r.bad(at, "is empty", "name the backing, such as white or black")
		}
	}
	row.Casting = tidy(r.text(castingColumn), 200)
	row.Note = tidy(r.text(noteColumn), 1000)
	row.ThicknessMM = r.thickness(row.ThicknessMM)
	row.ChipGrams = r.grams(chipGramsColumn)
	row.ScaleGrams = r.grams(scaleColumn)
	row.Loadings = r.loadings()
	r.measurement(&row)
	for i, p := range row.Circumstances.parts() {
		if at, ok := r.plan.where[circumstanceColumn+role(i)]; ok {
			*p.text = tidy(r.cells[at], 200)
		}
	}
	if r.o.Angles != "" {
		row.Circumstances.Geometry = r.o.Angles
	}
	row.Circumstances = row.Circumstances.or(r.taken)
	r.mode(&row.Circumstances)
	row.Labs = r.labs(&row)
	row.Spectrum = r.spectrum()
	return row
}

// fit brings a record to the width of the header, or reports that it does not
// belong to it.
func (r *rowReader) fit() bool {
	n := len(r.header)
	for i := n; i < len(r.cells); i++ {
		if r.cells[i] != "" {
			hint := "check this row for a stray separator"
			if r.separator == ',' {
				hint = "decimal commas between comma separators? export with semicolons or with decimal points"
			}
			r.problems.add(r.line, r.name, "", fmt.Sprintf("%d cells where the header has %d", len(r.cells), n), hint)
			return false
		}
	}
	if len(r.cells) < n {
		r.problems.add(r.line, r.name, r.header[len(r.cells)], fmt.Sprintf("the row ends here, after %d of %d cells", len(r.cells), n), "fill in the missing cells")
		return false
	}
	r.cells = r.cells[:n]
	return true
}

func (r *rowReader) thickness(whole float64) float64 {
	at, ok := r.plan.where[thicknessColumn]
	if !ok {
		return whole
	}
	v, ok := r.value(at, "write the thickness of the piece")
	if !ok {
		return 0
	}
	mm := v * r.plan.columns[at].scale
	switch {
	case mm <= 0:
		r.bad(at, "thickness "+plain(v)+" is not above 0", "write the thickness of the piece in mm")
	case mm > maxThicknessMM:
		r.bad(at, "thickness "+plain(mm)+" mm is impossible here", "write millimetres")
	}
	return mm
}

func (r *rowReader) grams(of role) float64 {
	at, ok := r.plan.where[of]
	if !ok {
		return 0
	}
	v, ok := r.value(at, "write grams, or delete the column")
	if ok && (v <= 0 || v > maxGrams) {
		r.bad(at, plain(v)+" g is impossible", "write grams above 0")
	}
	return v
}

func (r *rowReader) loadings() map[string]float64 {
	out := map[string]float64{}
	sum := 0.0
	for at, c := range r.plan.columns {
		if c.role != pigmentColumn {
			continue
		}
		v, ok := r.value(at, "write 0 if there is none in it")
		switch {
		case !ok:
		case v < 0:
			r.bad(at, "loading "+plain(v)+" phr is negative", "write grams of paste per 100 g of mixed resin")
		case v > 0:
			out[c.pigment] = v
			sum += v
		}
	}
	if sum > maxLoading {
		r.problems.add(r.line, r.name, "", "loadings add up to "+plain(sum)+" phr", "write grams of paste per 100 g of mixed resin; a sum above 100 is impossible")
	}
	return out
}

// measurement reads geometry and specular mode where the row carries them.
// What the row says must agree with what its file and the options say.
func (r *rowReader) measurement(row *Row) {
	m := &row.Measurement
	agree := func(at int, said, other string, whole bool, input string) {
		if other == "" || said == other {
			return
		}
		who := remedy.Input(input)
		if whole {
			who = "the file"
		}
		column := ""
		if at >= 0 {
			column = r.header[at]
		}
		r.problems.add(r.line, r.name, column, fmt.Sprintf("says %s, but %s says %s", said, who, other), "leave one out, or correct it")
	}
	geometry := func(at int, g color.Geometry) {
		agree(at, string(g), string(m.Geometry), r.sheet.measurement.Geometry != "", "geometry")
		m.Geometry = g
	}
	specular := func(at int, s color.Specular) {
		agree(at, string(s), string(m.Specular), r.sheet.measurement.Specular != "", "specular")
		m.Specular = s
	}
	if r.how.Geometry != "" {
		geometry(-1, r.how.Geometry)
	}
	if r.how.Specular != "" {
		specular(-1, r.how.Specular)
	}
	for _, role := range []role{geometryColumn, specularColumn} {
		at, ok := r.plan.where[role]
		if !ok {
			continue
		}
		if r.cells[at] == "" || r.cells[at] == notRead {
			continue // says nothing
		}
		if angles := anglesOf(r.cells[at]); angles != "" && role == geometryColumn {
			if angles != r.o.Angles {
				r.bad(at, quote(r.cells[at])+" is no way of measuring known here", sayGeometry(r.cells[at]))
			}
			continue
		}
		said, err := color.ParseMeasurement(r.cells[at])
		if err != nil {
			r.bad(at, err.Error(), "correct it, or "+ignoring(r.header[at])+" and say "+remedy.Input(map[bool]string{true: "geometry", false: "specular"}[role == geometryColumn]))
			continue
		}
		if said.Geometry != "" {
			geometry(at, said.Geometry)
		}
		if said.Specular != "" && (role == specularColumn || said.Geometry != color.Directional || !r.plan.has(specularColumn)) {
			specular(at, said.Specular)
		}
	}
	if at, way := r.wayAt, r.way; way.specular != "" {
		specular(at, way.specular)
	}
	if m.Geometry == color.Directional && m.Specular == "" {
		m.Specular = color.SpecularExcluded
	}
	if m.Geometry != "" && m.Specular != "" {
		at, inCells := r.plan.where[specularColumn]
		switch err := m.Check(); {
		case err != nil && inCells && r.cells[at] != "":
			r.bad(at, "says "+quote(r.cells[at])+", but "+strings.Split(err.Error(), ";")[0], "correct it, or "+ignoring(r.header[at]))
		case err != nil:
			r.problems.add(r.line, r.name, "", err.Error(), "")
		}
	}
}

// mode completes the measurement condition by the headers and the one asked for,
// which must not differ.
func (r *rowReader) mode(c *Circumstances) {
	if r.way.mode != "" {
		c.Mode = r.way.mode
	}
	switch said := modeOf(c.Mode); {
	case c.Mode == "":
		c.Mode = r.o.Mode
	case r.o.Mode != "" && said != r.o.Mode:
		r.problems.add(r.line, r.name, "", fmt.Sprintf("says measurement condition %s, but %s says %s", said, remedy.Input("m-condition"), r.o.Mode), "leave the option out, or correct the file")
	}
}

// condition completes what the header says of a set of Lab columns.
func (r *rowReader) condition(key setKey) (color.Condition, bool) {
	under := color.Condition{Illuminant: key.illuminant, Observer: key.observer}
	if under.Observer == 0 {
		if at, ok := r.plan.where[observerColumn]; ok {
			o, err := color.ParseObserver(r.cells[at])
			if err != nil {
				r.bad(at, err.Error(), "correct it, or "+ignoring(r.header[at])+" and say "+remedy.Input("observer"))
				return under, false
			}
			if given := max(r.o.Condition.Observer, r.o.Observer); given != 0 && given != o {
				r.bad(at, fmt.Sprintf("says %s, but %s says %d", quote(r.cells[at]), r.whose(r.sheet.under.Observer != 0, "observer"), int(given)), "leave one out, or correct it")
				return under, false
			}
			under.Observer = o
		}
	}
	if under.Illuminant == "" {
		if at, ok := r.plan.where[illuminantColumn]; ok {
			c, err := cellCondition(r.cells[at])
			i := c.Illuminant
			if err != nil {
				r.bad(at, err.Error(), "correct it, or "+ignoring(r.header[at])+" and say "+remedy.Input("illuminant"))
				return under, false
			}
			if given := r.o.Condition.Illuminant; given != "" && given != i {
				r.bad(at, fmt.Sprintf("says %s, but %s says %s", quote(r.cells[at]), r.whose(r.sheet.under.Illuminant != "", "illuminant"), given), "leave one out, or correct it")
				return under, false
			}
			if c.Observer != 0 {
				if given := max(under.Observer, r.o.Condition.Observer, r.o.Observer); given != 0 && given != c.Observer {
					r.bad(at, fmt.Sprintf("says %s, but observer %d is said elsewhere", quote(r.cells[at]), int(given)), "leave one out, or correct it")
					return under, false
				}
				under.Observer = c.Observer
			}
			under.Illuminant = i
		} else {
			under.Illuminant = r.o.Condition.Illuminant
			if under.Observer == 0 {
				under.Observer = r.o.Condition.Observer
			}
		}
	}
	if under.Observer == 0 {
		under.Observer = r.o.Observer
	}
	if under.Observer == 0 {
		under.Observer = color.TenDegree
	}
	return under, under.Illuminant != ""
}

// cellCondition reads an illuminant, or both in one cell as some instruments
// write: D65/10.
func cellCondition(cell string) (color.Condition, error) {
	if c, err := color.ParseCondition(cell); err == nil {
		return c, nil
	}
	i, err := color.ParseIlluminant(cell)
	return color.Condition{Illuminant: i}, err
}

// whose names where a condition of the whole file comes from.
func (r *rowReader) whose(file bool, input string) string {
	if file {
		return "the file"
	}
	return remedy.Input(input)
}

// cellsAgree refuses cells that name another light than every header does.
func (r *rowReader) cellsAgree() {
	var of setKey
	light, field := false, false
	at, hasLight := r.plan.where[illuminantColumn]
	o, hasField := r.plan.where[observerColumn]
	if len(r.plan.sets) == 0 || !hasLight && !hasField {
		return
	}
	var c color.Condition
	var v color.Observer
	if hasLight {
		c, _ = cellCondition(r.cells[at])
	}
	if hasField {
		v, _ = color.ParseObserver(r.cells[o])
	}
	for _, set := range r.plan.sets {
		of = set.key
		light = light || of.illuminant == "" || of.illuminant == c.Illuminant
		field = field || of.observer == 0 || of.observer == v
	}
	column := r.header[max(r.plan.sets[0].columns[0], 0)]
	if hasLight && c.Illuminant != "" && !light {
		r.bad(at, fmt.Sprintf("says %s, but column %s says %s", quote(r.cells[at]), oneLine(column, 40), of.illuminant), "correct one of them, or "+ignoring(r.header[at]))
	}
	if hasField && v != 0 && !field {
		r.bad(o, fmt.Sprintf("says %s, but column %s says %d", quote(r.cells[o]), oneLine(column, 40), int(of.observer)), "correct one of them, or "+ignoring(r.header[o]))
	}
}

func (r *rowReader) labs(row *Row) []color.Lab {
	r.cellsAgree()
	var out []color.Lab
	for _, set := range r.plan.sets {
		if set.columns[0] < 0 || set.columns[1] < 0 || set.columns[2] < 0 {
			continue // reported with the header
		}
		if r.absent(set.columns[:]) {
			continue
		}
		under, ok := r.condition(set.key)
		var v [3]float64
		for axis, at := range set.columns {
			var read bool
			if v[axis], read = r.value(at, "write the reading, or - in all of L, a, b where none was taken"); !read {
				ok = false
				continue
			}
			if problem, hint := set.in.impossible(axis, v[axis]); problem != "" {
				r.bad(at, problem, hint)
				ok = false
			}
		}
		if !ok {
			continue
		}
		lab, err := set.in.lab(v, under)
		if err == nil && set.in != inLab && (lab.L < 0 || lab.L > 100) {
			err = fmt.Errorf("L* %s is outside 0..100", plain(lab.L))
		}
		if err != nil {
			r.bad(set.columns[1], err.Error(), "check the columns and the calibration of the instrument")
			continue
		}
		out = append(out, lab)
	}
	return out
}

// absent tells whether every cell of a reading says that it was not taken.
func (r *rowReader) absent(columns []int) bool {
	for _, at := range columns {
		if r.cells[at] != notRead {
			return false
		}
	}
	return true
}

func (r *rowReader) spectrum() *color.Spectrum {
	bands := r.plan.bands
	if len(bands) == 0 || r.plan.step == 0 {
		return nil
	}
	absent := true
	for _, b := range bands {
		absent = absent && r.cells[b.column] == notRead
	}
	if absent {
		return nil
	}
	s := &color.Spectrum{FirstNM: bands[0].nm, StepNM: r.plan.step, R: make([]float64, len(bands))}
	good := true
	var bright []band
	for i, b := range bands {
		v, ok := r.value(b.column, "write the reading, or - in every band where none was taken")
		if r.percent {
			v /= 100
		}
		switch {
		case !ok:
		case v < 0:
			r.bad(b.column, fmt.Sprintf("reflectance %s at %d nm is negative", plain(v), b.nm), "calibrate the instrument on black and read again")
			ok = false
		case v > maxReflectance:
			bright = append(bright, b)
			ok = false
		}
		s.R[i] = v
		good = good && ok
	}
	if 2*len(bright) > len(bands) {
		bright = bright[:1] // of one cause, the unit
	}
	hint := "percent file? say " + remedy.Input("percent")
	if r.percent {
		hint = "fractions? say " + remedy.InputAs("percent", "false")
	}
	if r.sheet.statedPercent != nil {
		hint = "the file says " + unitName(*r.sheet.statedPercent) + ": correct that, or its values"
	}
	for _, b := range bright {
		r.bad(b.column, fmt.Sprintf("reflectance %s at %d nm is above %s", plain(s.R[(b.nm-s.FirstNM)/s.StepNM]), b.nm, plain(maxReflectance)), hint)
	}
	if !good {
		return nil
	}
	return s
}
