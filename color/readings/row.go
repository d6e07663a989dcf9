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
	how       color.Measurement // what the format says of the record at hand
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
	row.Note = tidy(r.text(noteColumn), 1000)
	row.ThicknessMM = r.thickness(row.ThicknessMM)
	row.ChipGrams = r.grams(chipGramsColumn)
	row.ScaleGrams = r.grams(scaleColumn)
	row.Loadings = r.loadings()
	r.measurement(&row)
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
func (r *rowReader) measurement(row *Row) {
	if r.how.Geometry != "" {
		row.Measurement.Geometry = r.how.Geometry
	}
	if r.how.Specular != "" {
		row.Measurement.Specular = r.how.Specular
	}
	if at, ok := r.plan.where[geometryColumn]; ok {
		if g, err := color.ParseGeometry(r.cells[at]); err != nil {
			r.bad(at, err.Error(), "")
		} else {
			row.Measurement.Geometry = g
		}
	}
	if at, ok := r.plan.where[specularColumn]; ok {
		if s, err := color.ParseSpecular(r.cells[at]); err != nil {
			r.bad(at, err.Error(), "")
		} else {
			row.Measurement.Specular = s
		}
	}
	for _, set := range r.plan.sets {
		if set.key.specular != "" {
			row.Measurement.Specular = set.key.specular
		}
	}
	if m := row.Measurement; m.Geometry != "" && m.Specular != "" {
		if err := m.Check(); err != nil {
			r.problems.add(r.line, r.name, "", err.Error(), "")
		}
	}
}

// condition completes what the header says of a set of Lab columns.
func (r *rowReader) condition(key setKey) (color.Condition, bool) {
	under := color.Condition{Illuminant: key.illuminant, Observer: key.observer}
	if under.Observer == 0 {
		if at, ok := r.plan.where[observerColumn]; ok {
			o, err := color.ParseObserver(r.cells[at])
			if err != nil {
				r.bad(at, err.Error(), "")
				return under, false
			}
			under.Observer = o
		}
	}
	if under.Illuminant == "" {
		if at, ok := r.plan.where[illuminantColumn]; ok {
			// Some instruments write both into one cell: D65/10.
			if c, err := color.ParseCondition(r.cells[at]); err == nil {
				return c, true
			}
			i, err := color.ParseIlluminant(r.cells[at])
			if err != nil {
				r.bad(at, err.Error(), "")
				return under, false
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

func (r *rowReader) labs(row *Row) []color.Lab {
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
			switch {
			case axis == 0 && (v[0] < 0 || v[0] > 100):
				r.bad(at, "L* "+plain(v[0])+" is outside 0..100", "check the column order and the calibration of the instrument")
				ok = false
			case axis > 0 && (v[axis] < -maxChroma || v[axis] > maxChroma):
				r.bad(at, "value "+plain(v[axis])+" is impossible for a surface", "check the column and its decimal mark")
				ok = false
			}
		}
		if ok {
			out = append(out, color.Lab{L: v[0], A: v[1], B: v[2], Under: under})
		}
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
			hint := "percent file? say " + remedy.Input("percent")
			if r.percent {
				hint = "fractions? say " + remedy.InputAs("percent", "false")
			}
			r.bad(b.column, fmt.Sprintf("reflectance %s at %d nm is above %s", plain(v), b.nm, plain(maxReflectance)), hint)
			ok = false
		}
		s.R[i] = v
		good = good && ok
	}
	if !good {
		return nil
	}
	return s
}
