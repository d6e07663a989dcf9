package readings

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
)

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
	in      space
}

type band struct{ nm, column int }

// planOf understands the header row and reports every header that means
// nothing, comes twice, or is missing.
func planOf(s *sheet, o *Options, k kind, p *problems) *plan {
	pl := &plan{where: map[role]int{}, columns: make([]column, len(s.header))}
	seen := map[string]string{}
	once := func(what, header string) bool {
		if other, dup := seen[what]; dup {
			p.add(s.headerLine, "", header, fmt.Sprintf("means the same as column %s", oneLine(other, 40)), "keep one, or "+ignoring(header))
			return false
		}
		seen[what] = header
		return true
	}
	sets := map[setKey]*labSet{}
	var strange []string
	for i, h := range s.header {
		c := understand(h, o)
		if c.role == unknown && modeHeaders[normalHeader(h)] {
			c.role = s.modeIn(i)
		}
		switch c.set.of {
		case "trial":
			c.set.of = ""
		case "standard": // of no standard that the rows name
			c = column{header: h}
		}
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
			strange = append(strange, h)
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
			if once(fmt.Sprintf("band %d %v", c.nm, c.set), h) {
				pl.bands = append(pl.bands, band{c.nm, i})
			}
		default:
			if once(fmt.Sprintf("role %d", c.role), h) {
				pl.where[c.role] = i
			}
		}
	}
	if len(strange) > fewUnknown {
		hint := "is this another kind of file?"
		switch {
		case o.anyKind && len(o.KnownPigments) == 0:
			hint += " for pigments say " + remedy.InputAs("pigments", "CODE,CODE,...")
		case k != samples:
			hint += " a pigment must be imported first"
		}
		p.unknown(s.headerLine, strange, hint)
	} else {
		for _, h := range strange {
			p.add(s.headerLine, "", h, "is unknown", unknownHint(h, strange, o, k))
		}
	}
	for i := range pl.sets {
		pl.sets[i] = *sets[pl.sets[i].key]
	}
	pl.useOtherSpaces(s.header)
	pl.chooseName(s)
	pl.oneWay(s, o, p)
	pl.checkXYZ(s, p)
	pl.checkLabs(s, o, p)
	pl.checkBands(s, p)
	pl.checkNeeded(s, o, k, p)
	return pl
}

// modeHeaders are those of columns whose cells tell what kind of mode they say.
var modeHeaders = map[string]bool{"mode": true, "measurementmode": true, "measuringmode": true}

// modeIn is what all cells of a column say: a specular mode, or a measurement
// condition.
func (s *sheet) modeIn(at int) role {
	specular, condition := s.filled(at), s.filled(at)
	for _, r := range s.records {
		if at >= len(r.cells) || r.cells[at] == "" || r.cells[at] == notRead {
			continue
		}
		m, err := color.ParseMeasurement(r.cells[at])
		specular = specular && err == nil && m.Specular != ""
		condition = condition && modeWord.MatchString(r.cells[at])
	}
	switch {
	case specular:
		return specularColumn
	case condition:
		return circumstanceColumn
	}
	return unknown
}

// chooseName settles which column names the rows, since exports number their
// rows beside naming them; the others are not used.
func (pl *plan) chooseName(s *sheet) {
	standard, compared := pl.where[standardColumn]
	if at, ok := pl.where[idColumn]; ok && compared && !pl.has(nameColumn) && !pl.has(sampleColumn) && trialIDs[normalHeader(s.header[at])] {
		pl.where[sampleColumn] = at
		delete(pl.where, idColumn)
	}
	if compared && (pl.has(nameColumn) || pl.has(sampleColumn)) {
		defer func() { pl.where[standardColumn] = standard }()
		delete(pl.where, standardColumn)
	}
	for _, r := range []role{nameColumn, sampleColumn, standardColumn, placeColumn, idColumn} {
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

// oneWay keeps the columns of one way of reading, since a row has one: those
// asked for, where several stand side by side.
func (pl *plan) oneWay(s *sheet, o *Options, p *problems) {
	for _, part := range o.parts() {
		of := func(k setKey) string { return part.of(variant{specular: k.specular, mode: k.mode}) }
		var labs, bands []string
		for _, set := range pl.sets {
			labs = append(labs, of(set.key))
		}
		for _, b := range pl.bands {
			bands = append(bands, of(pl.columns[b.column].set))
		}
		var ways []string // of the columns of either kind, and of both together
		for _, kind := range [][]string{labs, bands, slices.DeleteFunc(slices.Concat(labs, bands), func(v string) bool { return v == "" })} {
			slices.Sort(kind)
			if kind = slices.Compact(kind); len(kind) > 1 {
				ways = kind
			}
		}
		if ways == nil {
			continue
		}
		if part.asked == "" || !slices.Contains(ways, part.asked) {
			var inputs []string
			for _, w := range ways {
				if w != "" {
					inputs = append(inputs, remedy.InputAs(part.input, w))
				}
			}
			problem := "readings of several ways stand side by side, " + partName(part.input) + " " + strings.Join(ways, " and ")
			if part.input == "specular" {
				problem = "readings with and without the specular reflection stand side by side"
				inputs = []string{remedy.InputAs("specular", "included"), remedy.InputAs("specular", "excluded")}
			}
			p.add(s.headerLine, "", "", problem, "choose one by "+strings.Join(inputs, " or "))
			return
		}
		mixed := map[role]bool{labColumn: len(slices.Compact(labs)) > 1, bandColumn: len(slices.Compact(bands)) > 1}
		for at := range pl.columns {
			c := &pl.columns[at]
			if v := of(c.set); (c.role == labColumn || c.role == bandColumn) && v != part.asked && (v != "" || mixed[c.role]) {
				c.role = ignored
			}
		}
		pl.sets = slices.DeleteFunc(pl.sets, func(set labSet) bool {
			return pl.columns[max(set.columns[0], set.columns[1], set.columns[2])].role == ignored
		})
		pl.bands = slices.DeleteFunc(pl.bands, func(b band) bool { return pl.columns[b.column].role == ignored })
	}
}

// way is what the headers of readings say of it, and a column that does.
func (pl *plan) way() (at int, way setKey) {
	for i, c := range pl.columns {
		if c.role != labColumn && c.role != bandColumn {
			continue
		}
		if c.set.specular != "" {
			at, way.specular = i, c.set.specular
		}
		if c.set.mode != "" {
			way.mode = c.set.mode
		}
	}
	return at, way
}

// fewUnknown columns are told one by one; more are likely of another kind of
// file.
const fewUnknown = 4

func unknownHint(h string, strange []string, o *Options, k kind) string {
	hint := ""
	if near, ok := nearest(h, o.KnownPigments); ok {
		hint = "did you mean " + near + "? "
	}
	switch {
	case o.anyKind && len(o.KnownPigments) == 0:
		return hint + "a pigment? say " + remedy.InputAs("pigments", strings.Join(strange, ",")) + "; else " + meaning(h) + " or " + ignoring(h)
	case k == samples:
		return hint + meaning(h) + " or " + ignoring(h)
	}
	return hint + "a pigment must be imported first; else " + meaning(h) + " or " + ignoring(h)
}

// meaning and ignoring are the inputs that say what a column is.
func meaning(header string) string  { return remedy.InputAs("map", header+"=COLUMN") }
func ignoring(header string) string { return remedy.InputAs("map", header+"=ignore") }

// usualLight is what to say of Lab that names no light.
var usualLight = remedy.InputAs("illuminant", "D65") + " " + remedy.InputAs("observer", "10")

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
		if set.key.illuminant == "" && o.Condition.Illuminant == "" && !pl.has(illuminantColumn) && !s.doubts(ofIlluminant) {
			p.add(s.headerLine, "", s.header[max(set.columns[0], 0)], "does not say its illuminant", "add "+usualLight+", or name the columns L_D65,a_D65,b_D65")
		}
	}
}

const smallXYZ = "X, Y, Z are read with Y 100 for white; multiply those that run to 1 by 100, or export Lab"

// checkXYZ wants tristimulus values that run to 100, since those of a black in
// such a scale look like those of a white in one that runs to 1.
func (pl *plan) checkXYZ(s *sheet, p *problems) {
	for _, set := range pl.sets {
		if set.in != inXYZ {
			continue
		}
		most := 0.0
		for _, r := range s.records {
			if at := set.columns[1]; at < len(r.cells) {
				if v, bad := number(strings.Replace(r.cells[at], ",", ".", 1), '.'); bad == "" {
					most = max(most, v)
				}
			}
		}
		if most <= maxReflectance {
			p.add(s.headerLine, "", s.header[set.columns[1]], "is nowhere above "+plain(maxReflectance), smallXYZ)
		}
	}
}

// checkGiven refuses a light that no column is under, as the headers name
// others.
func (pl *plan) checkGiven(s *sheet, o *Options, p *problems) {
	if len(pl.sets) == 0 {
		return
	}
	light, field := false, false
	observer := max(o.Condition.Observer, o.Observer)
	for _, set := range pl.sets {
		light = light || set.key.illuminant == "" || set.key.illuminant == o.Condition.Illuminant
		field = field || set.key.observer == 0 || set.key.observer == observer
	}
	key, column := pl.sets[0].key, s.header[max(pl.sets[0].columns[0], 0)]
	who := func(file bool, input string) string {
		if file {
			return "the file"
		}
		return remedy.Input(input)
	}
	if o.Condition.Illuminant != "" && !light {
		p.add(s.headerLine, "", column, fmt.Sprintf("says %s, but %s says %s", key.illuminant, who(s.under.Illuminant != "", "illuminant"), o.Condition.Illuminant), "leave one out, or correct it")
	}
	if observer != 0 && !field {
		p.add(s.headerLine, "", column, fmt.Sprintf("says observer %d, but %s says %d", int(key.observer), who(s.under.Observer != 0, "observer"), int(observer)), "leave one out, or correct it")
	}
}

// checkBands wants one even grid of 1, 5, 10 or 20 nm that covers 400 to 700 nm.
func (pl *plan) checkBands(s *sheet, p *problems) {
	if len(pl.bands) == 0 {
		return
	}
	sort.Slice(pl.bands, func(i, j int) bool { return pl.bands[i].nm < pl.bands[j].nm })
	header := func(i int) string { return s.header[pl.bands[i].column] }
	if len(pl.bands) == 1 {
		p.add(s.headerLine, "", header(0), "is a single band", "a spectrum needs 400 to 700 nm in steps of 1, 5, 10 or 20 nm")
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
	if pl.step != 1 && pl.step != 5 && pl.step != 10 && pl.step != 20 {
		p.add(s.headerLine, "", header(0), fmt.Sprintf("starts bands %d nm apart", pl.step), "export the spectrum at 1, 5, 10 or 20 nm")
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
			miss("no column backing", "add it (white, black, ...), or say "+remedy.Input("over")+" for the whole file")
		}
		if !pl.has(thicknessColumn) && o.ThicknessMM == 0 {
			miss("no column thickness_mm", "add it, or say "+remedy.Input("thickness")+" for the whole file")
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
