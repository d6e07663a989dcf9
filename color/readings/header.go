package readings

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"masstone/color"
)

// role is what a column means.
type role int

const (
	unknown role = iota
	ignored
	nameColumn
	backingColumn
	castingColumn
	thicknessColumn
	pigmentColumn
	labColumn
	bandColumn
	chipGramsColumn
	scaleColumn
	geometryColumn
	specularColumn
	illuminantColumn
	observerColumn
	noteColumn
	sampleColumn       // a name, unless a nameColumn is there
	standardColumn     // a name, unless one of those is there: then that of what was read is compared with
	placeColumn        // a name, unless one of those is there
	idColumn           // a name, unless one of the others is there
	roleColumn         // whether of a standard or a trial
	circumstanceColumn // + the index of Circumstances.parts
)

// words are the headers the trade uses, in the form of normalHeader.
// Common practice, no source.
var words = map[string]role{
	"chip": nameColumn, "chipname": nameColumn, "chipid": idColumn, "mix": nameColumn, "mixture": nameColumn,
	"sample": sampleColumn, "sampleid": idColumn, "samplename": sampleColumn, "specimen": sampleColumn, "name": sampleColumn,
	"id": idColumn, "standard": standardColumn, "standardname": standardColumn, "stdname": standardColumn, "std": standardColumn,
	"trial": sampleColumn, "trialname": sampleColumn, "trialid": idColumn, "swatch": sampleColumn, "plaque": sampleColumn,
	"panel": sampleColumn, "drawdown": sampleColumn, "readingname": sampleColumn, "part": sampleColumn,

	"backing": backingColumn, "backingname": backingColumn, "background": backingColumn, "substrate": backingColumn, "over": backingColumn,
	"casting": castingColumn, "castingname": castingColumn, "cup": castingColumn,

	"chipgrams": chipGramsColumn, "chipg": chipGramsColumn, "chipmass": chipGramsColumn, "chipmassg": chipGramsColumn,
	"chipweight": chipGramsColumn, "chipweightg": chipGramsColumn, "castg": chipGramsColumn,
	"scaleg": scaleColumn, "scalegrams": scaleColumn, "scaleresolution": scaleColumn, "scaleresolutiong": scaleColumn,

	"geometry": geometryColumn, "measurementgeometry": geometryColumn,
	"specular": specularColumn, "specularmode": specularColumn, "specularcomponent": specularColumn, "sci/sce": specularColumn,
	"illuminant": illuminantColumn, "illum": illuminantColumn, "light": illuminantColumn, "lightsource": illuminantColumn,
	"observer": observerColumn, "observerangle": observerColumn,

	"note": noteColumn, "notes": noteColumn, "comment": noteColumn, "comments": noteColumn, "remark": noteColumn,
	"remarks": noteColumn, "description": noteColumn,

	"standard/trial": roleColumn, "standard/sample": roleColumn, "std/smp": roleColumn, "type": roleColumn, "datatype": roleColumn, "recordtype": roleColumn,

	// Carried by instrument exports, and no evidence of what was poured.
	"date": circumstanceColumn + 5, "time": ignored, "datetime": ignored, "timestamp": ignored, "operator": ignored, "user": ignored,
	"instrument": circumstanceColumn + 3, "serial": circumstanceColumn + 4, "serialnumber": circumstanceColumn + 4,
	"mcondition": circumstanceColumn, "measurementcondition": circumstanceColumn, "filter": circumstanceColumn + 1, "aperture": circumstanceColumn + 2, "aperturemm": circumstanceColumn + 2, "temperature": circumstanceColumn + 6, "statedgeometry": circumstanceColumn + 7,
	"no": idColumn, "no.": idColumn, "nr": idColumn, "sampleno": idColumn, "sampleloc": placeColumn,
	"index": ignored, "status": ignored, "tolerance": ignored, "passfail": ignored, "pass/fail": ignored, "gloss": ignored,
	"c*": ignored, "h": ignored, "h*": ignored, "hue": ignored, "chroma": ignored, "c*ab": ignored, "hab": ignored, "h*ab": ignored,
	"x": ignored, "y": ignored, "z": ignored, "xyzx": ignored, "xyzy": ignored, "xyzz": ignored, "labc": ignored, "labh": ignored,
	"lchl": ignored, "lchc": ignored, "lchh": ignored, "rgbr": ignored, "rgbg": ignored, "rgbb": ignored,
	"dl*": ignored, "da*": ignored, "db*": ignored, "dc*": ignored, "dh*": ignored, "de*": ignored, "dl": ignored, "da": ignored,
	"db": ignored, "dc": ignored, "dh": ignored, "de": ignored, "de*ab": ignored, "de00": ignored, "de2000": ignored, "decmc": ignored,
	"de94": ignored, "whiteness": ignored, "yellowness": ignored, "opacity": ignored,
}

// lengths are the units a thickness header may name, in mm.
var lengths = map[string]float64{
	"thickness": 1, "thicknessmm": 1, "thick": 1, "thickmm": 1, "filmthicknessmm": 1, "layerthicknessmm": 1,
	"thicknesscm": 10, "thicknessum": 1e-3, "thicknessµm": 1e-3, "thicknessμm": 1e-3, "thicknessin": 25.4, "thicknessinch": 25.4,
}

// column is one header understood.
type column struct {
	header  string
	role    role
	pigment string  // pigmentColumn
	axis    int     // labColumn: 0 L, 1 a, 2 b
	set     setKey  // labColumn, bandColumn
	nm      int     // bandColumn
	percent bool    // bandColumn whose header says percent
	scale   float64 // thicknessColumn: mm per unit
}

// setKey tells one set of Lab columns from another; empty parts were not said.
type setKey struct {
	illuminant color.Illuminant
	observer   color.Observer
	specular   color.Specular
	mode       string // M0 to M3
	of         string // what was read, standard or trial, where both stand in one row
}

// normalHeader brings a header to the form of words: lower case, no blanks,
// underscores, hyphens or brackets, and d for a Greek delta.
func normalHeader(h string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r), strings.ContainsRune("_-()[]{}:", r):
			return -1
		case r == 'Δ' || r == '∆' || r == 'δ':
			return 'd'
		}
		return unicode.ToLower(r)
	}, h)
}

// understand gives a header its meaning. A pigment code spelled exactly goes
// before the words a colour instrument uses in passing (C*, h, X, Y, Z) and
// after the columns this package needs.
func understand(header string, o *Options) column {
	h := header
	if to, ok := o.Map[header]; ok {
		if to == "ignore" || to == "-" {
			return column{header: header, role: ignored}
		}
		h = to
	}
	c := column{header: header}
	sq := normalHeader(h)
	if r, ok := words[sq]; ok && r != ignored && r < circumstanceColumn {
		c.role = r
		return c
	}
	if mm, ok := lengths[sq]; ok {
		c.role, c.scale = thicknessColumn, mm
		return c
	}
	if code, ok := pigmentOf(h, o.KnownPigments); ok {
		c.role, c.pigment = pigmentColumn, code
		return c
	}
	if axis, set, ok := labHeader(h); ok {
		c.role, c.axis, c.set = labColumn, axis, set
		return c
	}
	if nm, percent, set, ok := bandHeader(h); ok {
		c.role, c.nm, c.percent, c.set = bandColumn, nm, percent, set
		return c
	}
	if r, ok := words[sq]; ok && sq != "" {
		c.role = r // ignored, or a circumstance
		return c
	}
	for _, in := range []space{inLCh, inXYZ} {
		if _, _, ok := spaceHeader(h, in); ok {
			c.role = ignored // unless no Lab stands beside it
		}
	}
	return c
}

var unitPHR = regexp.MustCompile(`(?i)[ _]*[(\[]?phr[)\]]?$`)

// pigmentOf finds the code a header means: exactly, else with its unit or case
// put aside when only one code fits.
func pigmentOf(h string, codes []string) (string, bool) {
	bare := strings.TrimSpace(unitPHR.ReplaceAllString(h, ""))
	found := ""
	for _, c := range codes {
		if c == h || c == bare {
			return c, true
		}
		// L, a and b in any case stay colour coordinates.
		if len(bare) > 1 && strings.EqualFold(c, bare) {
			if found != "" {
				return "", false
			}
			found = c
		}
	}
	return found, found != ""
}

// bandHeader understands R400, R 400 nm, 400, 400nm, nm400, NM_400,
// SPECTRAL_400, SPECTRAL_NM_400, SPEC_400 and %R400, with the way of reading
// before or after: SCE 400, R400 (SCI), M1_400.
var bandPattern = regexp.MustCompile(`^(%?)(?:r%|r|refl|reflectance|spectral|spec|wl|wavelength|λ)?(%?)(?:nm)?([0-9]{3,4})(?:\.0+)?(?:nm)?(%?)$`)

func bandHeader(h string) (nm int, percent bool, set setKey, ok bool) {
	words := strings.FieldsFunc(h, func(r rune) bool { return strings.ContainsRune(" _-()[],;/\t", r) })
	bare := words[:0]
	for _, w := range words {
		if !set.take(strings.ToUpper(w)) {
			bare = append(bare, w)
		}
	}
	m := bandPattern.FindStringSubmatch(normalHeader(strings.Join(bare, "")))
	if m == nil {
		return 0, false, set, false
	}
	nm, err := strconv.Atoi(m[3])
	if err != nil || nm < 200 || nm > 1200 {
		return 0, false, set, false
	}
	return nm, m[1]+m[2]+m[4] != "" || strings.Contains(h, "%"), set, true
}

// labHeader understands L_D65, a*(D65/10), "L* (10°/D65) SCI", LAB_B, "D65 a*"
// and the plain L, a, b.
func labHeader(h string) (axis int, set setKey, ok bool) {
	tokens := labTokens(h)
	if len(tokens) == 0 || len(tokens) > 8 {
		return 0, set, false
	}
	for i, t := range tokens {
		axis, isAxis := labAxis(t)
		if !isAxis {
			continue
		}
		rest := make([]string, 0, len(tokens)-1)
		rest = append(append(rest, tokens[:i]...), tokens[i+1:]...)
		if set, ok := labConditions(rest); ok {
			return axis, set, true
		}
	}
	return 0, setKey{}, false
}

// labTokens splits a header into its words; the star of L* belongs to its word.
func labTokens(h string) []string {
	parts := strings.FieldsFunc(h, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '*'
	})
	out := parts[:0]
	for _, p := range parts {
		u := strings.ToUpper(p)
		switch u {
		case "LAB", "CIELAB", "CIE", "DEG", "DEGREE", "OBS", "OBSERVER", "ILLUMINANT":
			continue
		}
		if light, fused := strings.CutSuffix(u, "LAB"); fused { // D65LAB_L
			p = light
		}
		// LED-B3 was split at its hyphen.
		if n := len(out); n > 0 && strings.EqualFold(out[n-1], "LED") {
			out[n-1] += "-" + p
			continue
		}
		out = append(out, p)
	}
	return out
}

func labAxis(token string) (int, bool) {
	switch strings.TrimSuffix(token, "*") {
	case "L", "l":
		return 0, true
	case "a", "A":
		return 1, true
	case "b", "B":
		return 2, true
	}
	return 0, false
}

// take takes a word that says the way of reading, unless another was taken.
func (k *setKey) take(word string) bool {
	specular := map[string]color.Specular{"SCI": color.SpecularIncluded, "SPIN": color.SpecularIncluded, "SCE": color.SpecularExcluded, "SPEX": color.SpecularExcluded}[word]
	switch {
	case specular != "" && k.specular == "":
		k.specular = specular
	case len(word) == 2 && modeWord.MatchString(word) && k.mode == "":
		k.mode = word
	case sideWords[word] != "" && k.of == "":
		k.of = sideWords[word]
	default:
		return false
	}
	return true
}

func labConditions(tokens []string) (set setKey, ok bool) {
	for _, t := range tokens {
		u := strings.ToUpper(t)
		switch u {
		case "2", "2DEG":
			if set.observer != 0 {
				return set, false
			}
			set.observer = 2
			continue
		case "10", "10DEG":
			if set.observer != 0 {
				return set, false
			}
			set.observer = 10
			continue
		}
		if set.take(u) {
			continue
		}
		il, err := color.ParseIlluminant(t)
		if err != nil || set.illuminant != "" {
			return set, false
		}
		set.illuminant = il
	}
	return set, true
}

// nearest finds what a mistyped header was probably meant to be.
func nearest(h string, codes []string) (string, bool) {
	best, at := "", 1000
	try := func(candidate string) {
		limit := 1
		if len(candidate) > 4 {
			limit = 2
		}
		d := 2 * editDistance(strings.ToLower(h), strings.ToLower(candidate))
		if d > 2*limit {
			return
		}
		if h != "" && !strings.EqualFold(h[:1], candidate[:1]) {
			d++ // a slip is rarer in the first letter
		}
		if d < at {
			best, at = candidate, d
		}
	}
	for _, c := range codes {
		if len(c) > 1 {
			try(c)
		}
	}
	for _, w := range []string{"chip", "mix", "backing", "casting", "thickness_mm", "chip_grams", "scale_g", "geometry", "specular", "illuminant", "observer", "note"} {
		try(w)
	}
	return best, best != ""
}

// editDistance counts the insertions, deletions and substitutions between two
// short words (Levenshtein 1966).
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 40 || len(y) > 40 {
		return 40
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diagonal+cost)
		}
	}
	return row[len(y)]
}
