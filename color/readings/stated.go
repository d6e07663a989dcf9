package readings

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"masstone/color"
	"masstone/color/remedy"
)

// Circumstances are what a file says of how a reading was taken beside its
// light and geometry, as free text; empty where it says nothing.
type Circumstances struct {
	Mode        string // measurement condition M0, M1, M2 or M3 of ISO 13655
	Filter      string
	Aperture    string
	Instrument  string
	Serial      string
	Date        string
	Temperature string
	Geometry    string // as the file has it, where it was taken for another
}

// parts gives the circumstances with their names, in the order of the struct.
func (c *Circumstances) parts() []circumstance {
	return []circumstance{{"measurement condition", &c.Mode}, {"filter", &c.Filter}, {"aperture", &c.Aperture},
		{"instrument", &c.Instrument}, {"serial", &c.Serial}, {"date", &c.Date}, {"temperature", &c.Temperature},
		{"stated geometry", &c.Geometry}}
}

type circumstance struct {
	name string
	text *string
}

// or completes the circumstances of a reading by those of its file.
func (c Circumstances) or(file Circumstances) Circumstances {
	whole := file.parts()
	for i, p := range c.parts() {
		if *p.text == "" {
			*p.text = *whole[i].text
		}
	}
	return c
}

// String lists what is said.
func (c Circumstances) String() string {
	var out []string
	for _, p := range c.parts() {
		if *p.text != "" {
			out = append(out, p.name+" "+*p.text)
		}
	}
	return strings.Join(out, ", ")
}

// subject is what a statement is about.
type subject int

const (
	ofNothing subject = iota
	ofIlluminant
	ofObserver
	ofCondition
	ofGeometry
	ofSpecular
	ofMode // "Mode", which says the specular mode, the measurement condition or nothing of use
	ofWeighting
	ofSource
	ofUnit
	ofNorm
	ofBacking
	ofCircumstance // + the index of parts
)

// subjects are the keys that open a statement, in the form of normalHeader.
// Those of ISO 28178 are from memory, the rest common practice.
var subjects = map[string]subject{
	"illuminant": ofIlluminant, "illum": ofIlluminant, "illum.": ofIlluminant, "ill.": ofIlluminant, "light": ofIlluminant, "lightsource": ofIlluminant,
	"illuminationname": ofIlluminant, "illuminantname": ofIlluminant,
	"observer": ofObserver, "obs": ofObserver, "obs.": ofObserver, "observerangle": ofObserver, "standardobserver": ofObserver,
	"illuminant/observer": ofCondition, "illuminantobserver": ofCondition, "light/observer": ofCondition,
	"weightingfunction": ofWeighting, "measurementsource": ofSource,
	"geometry": ofGeometry, "measurementgeometry": ofGeometry, "measuringgeometry": ofGeometry, "instrumentgeometry": ofGeometry,
	"specular": ofSpecular, "specularmode": ofSpecular, "specularcomponent": ofSpecular, "sci/sce": ofSpecular, "mode": ofMode, "measurementmode": ofMode,
	"unit": ofUnit, "units": ofUnit, "reflectanceunit": ofUnit, "spectralnorm": ofNorm,
	"samplebacking":        ofBacking,
	"measurementcondition": ofCircumstance, "mcondition": ofCircumstance,
	"filter": ofCircumstance + 1, "polarization": ofCircumstance + 1, "polarisation": ofCircumstance + 1,
	"aperture": ofCircumstance + 2, "aperturemm": ofCircumstance + 2, "measurementaperture": ofCircumstance + 2, "measurementarea": ofCircumstance + 2, "measarea": ofCircumstance + 2, "meas.area": ofCircumstance + 2,
	"instrument": ofCircumstance + 3, "instrumentation": ofCircumstance + 3, "instrumentname": ofCircumstance + 3, "device": ofCircumstance + 3,
	"serial": ofCircumstance + 4, "serialnumber": ofCircumstance + 4, "serialno": ofCircumstance + 4, "serialno.": ofCircumstance + 4, "instrumentserialnumber": ofCircumstance + 4, "instrumentserial": ofCircumstance + 4, "instrumentsn": ofCircumstance + 4, "s/n": ofCircumstance + 4,
	"date": ofCircumstance + 5, "measurementdate": ofCircumstance + 5,
	"temperature": ofCircumstance + 6,
}

// unclear is a condition that a file states in words not known here, or in two
// ways; an input that says it settles the matter.
type unclear struct {
	row     int
	problem string
	about   subject
	text    string // as the file has it
}

// state takes one statement of the file: a key and the words after it. It
// tells whether the key is one.
func (s *sheet) state(row int, key, text string) bool {
	about := subjects[normalHeader(key)]
	text = tidy(text, 200)
	if about == ofNothing || text == "" {
		return false
	}
	said := fmt.Sprintf("%s %s", oneLine(key, 40), quote(text))
	doubt := func(what subject, problem string) {
		s.unclear = append(s.unclear, unclear{row, said + " " + problem, what, text})
	}
	switch about {
	case ofIlluminant, ofObserver, ofCondition, ofWeighting, ofSource:
		s.light(text, about, doubt)
	case ofGeometry, ofSpecular:
		m, err := color.ParseMeasurement(text)
		if err != nil {
			doubt(about, "is no way of measuring known here")
			break
		}
		s.way(m, doubt)
	case ofMode:
		m, err := color.ParseMeasurement(text)
		switch {
		case err == nil:
			s.way(m, doubt)
		case likeSpecular.MatchString(text):
			doubt(ofSpecular, "is no specular mode known here")
		case modeWord.MatchString(text):
			s.circumstances.Mode = modeOf(text)
		default:
			return false
		}
	case ofUnit:
		if !strings.Contains(text, "%") && !strings.Contains(strings.ToLower(text), "percent") {
			return false
		}
		s.percent(true)
	case ofNorm:
		v, bad := number(text, '.')
		if bad != "" || v != 1 && v != 100 {
			doubt(ofNorm, "is neither 1 nor 100")
			break
		}
		s.percent(v == 100)
	case ofBacking:
		s.backing = tidy(text, 100)
	default:
		part := s.circumstances.parts()[about-ofCircumstance].text
		if *part != "" && *part != text {
			text = *part + ", " + text
		}
		*part = tidy(text, 200)
	}
	return true
}

// way keeps a geometry or mode, unless another was stated before.
func (s *sheet) way(m color.Measurement, doubt func(subject, string)) {
	if g := s.measurement.Geometry; m.Geometry != "" && g != "" && g != m.Geometry {
		doubt(ofGeometry, "contradicts "+string(g)+" stated before")
		return
	}
	if mode := s.measurement.Specular; m.Specular != "" && mode != "" && mode != m.Specular {
		doubt(ofSpecular, "contradicts specular "+string(mode)+" stated before")
		return
	}
	if m.Geometry != "" {
		s.measurement.Geometry = m.Geometry
	}
	if m.Specular != "" {
		s.measurement.Specular = m.Specular
	}
}

func (s *sheet) percent(yes bool) { s.statedPercent = &yes }

var (
	// illuminantWord finds names of CIE illuminants, known here or not, that no
	// other word looks like.
	illuminantWord = regexp.MustCompile(`(?i)\b(D ?(?:50|55|65|75)|FL? ?[0-9]{1,2}|LED-?[BV][0-9]|LED-RGB1|ID(?:50|65)|TL84|CWF|U30)\b`)
	observerWord   = regexp.MustCompile(`(?i)(?:\b(2|10)[ _-]?(?:°|º|deg(?:rees?)?\b))|\b(?:CIE|observer)[ :=,]*\(?(1931|1964|2|10)\b|\b(1931|1964)_(?:2|10)\b|/ ?(2|10)\b`)
	strongSpecular = regexp.MustCompile(`(?i)\b(sci|sce|spinc?|spexc?|specular(?: component)? (?:included|excluded)|rsin|rsex|spec\w*)\b`)
	likeSpecular   = regexp.MustCompile(`(?i)\bs[pc][a-z]*\b`)
	geometryWord   = regexp.MustCompile(`(?i)(?:\b(?:d[ie]?[/:] ?[08]|8[/:] ?d[ie]?|45[acx]?°?[/:] ?0|0°?[/:] ?45[acx]?|45°?[/:] ?[1-9][0-9]*)\b)`)
)

// light takes what a text says of illuminant and observer, whole or in passing.
func (s *sheet) light(text string, about subject, doubt func(subject, string)) {
	var lights []color.Illuminant
	var fields []color.Observer
	strange := false
	addLight := func(i color.Illuminant) {
		if len(lights) == 0 || lights[0] != i {
			lights = append(lights, i)
		}
	}
	addField := func(o color.Observer) {
		if len(fields) == 0 || fields[0] != o {
			fields = append(fields, o)
		}
	}
	rest := text
	if word, more, several := strings.Cut(text, " "); several && about == ofIlluminant && !strings.Contains(strings.ToLower(more), "illuminant") {
		if v, err := color.ParseIlluminant(strings.TrimRight(word, ",;")); err == nil {
			addLight(v) // A and C are no words to look for
		}
	}
	if about == ofWeighting || about == ofSource {
		rest = ""
		words := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(", =:;\"\t", r) })
		for i := 0; i+1 < len(words); i++ {
			switch strings.ToLower(words[i]) {
			case "illuminant", "illumination":
				if v, err := color.ParseIlluminant(words[i+1]); err == nil {
					addLight(v)
				} else {
					doubt(ofIlluminant, "names no illuminant known here")
				}
			case "observer", "observerangle":
				if v, err := color.ParseObserver(words[i+1]); err == nil {
					addField(v)
				} else {
					doubt(ofObserver, "names no observer known here")
				}
			}
		}
	} else if c, err := color.ParseCondition(text); err == nil {
		addLight(c.Illuminant)
		addField(c.Observer)
		rest = ""
	} else if v, err := color.ParseIlluminant(text); err == nil && about != ofObserver {
		addLight(v)
		rest = ""
	} else if v, err := color.ParseObserver(text); err == nil && about != ofIlluminant {
		addField(v)
		rest = ""
	}
	for _, w := range illuminantWord.FindAllString(rest, -1) {
		if v, err := color.ParseIlluminant(w); err == nil {
			addLight(v)
		} else {
			strange = true
		}
	}
	for _, m := range observerWord.FindAllStringSubmatch(rest, -1) {
		for _, w := range m[1:] {
			if v, err := color.ParseObserver(w); err == nil {
				addField(v)
			}
		}
	}
	switch {
	case strange, len(lights) > 1, rest != "" && len(lights) == 0 && (about == ofIlluminant || about == ofCondition):
		doubt(ofIlluminant, "names no one illuminant known here")
	case len(lights) == 1 && s.under.Illuminant != "" && s.under.Illuminant != lights[0]:
		doubt(ofIlluminant, "contradicts "+string(s.under.Illuminant)+" stated before")
	case len(lights) == 1:
		s.under.Illuminant = lights[0]
	}
	switch {
	case len(fields) > 1, rest != "" && len(fields) == 0 && about == ofObserver:
		doubt(ofObserver, "names no one observer known here")
	case len(fields) == 1 && s.under.Observer != 0 && s.under.Observer != fields[0]:
		doubt(ofObserver, fmt.Sprintf("contradicts %d stated before", int(s.under.Observer)))
	case len(fields) == 1:
		s.under.Observer = fields[0]
	}
}

// above takes the statements of a row above the table: keys with the cell
// after them or after a colon, and conditions in passing. It gives the cells
// that said nothing known.
func (s *sheet) above(r record) (rest []string) {
	for i := 0; i < len(r.cells); i++ {
		cell := strings.TrimSpace(strings.TrimPrefix(r.cells[i], "#"))
		if cell == "" {
			continue
		}
		if key, value, found := cutKey(cell); found && s.state(r.line, key, value) {
			continue
		}
		next := i + 1
		for next < len(r.cells) && r.cells[next] == "" {
			next++
		}
		if next < len(r.cells) && words[normalHeader(r.cells[next])] == unknown && s.state(r.line, strings.TrimRight(cell, ":= "), r.cells[next]) {
			i = next
			continue
		}
		if !s.inPassing(r.line, cell) {
			rest = append(rest, cell)
		}
	}
	return rest
}

func cutKey(cell string) (key, value string, found bool) {
	at := strings.IndexAny(cell, ":=")
	if at < 0 {
		return "", "", false
	}
	return strings.TrimSpace(cell[:at]), strings.TrimSpace(cell[at+1:]), true
}

var percentWord = regexp.MustCompile(`(?i)(reflect\w*|remission|R)[^%a-z]*(in )?[\[(]?(%|per ?cent\b)|%R\b`)

// inPassing takes conditions that a text names without a key.
func (s *sheet) inPassing(row int, text string) bool {
	found := false
	word := text
	doubt := func(what subject, problem string) {
		s.unclear = append(s.unclear, unclear{row, quoteLong(text) + " " + problem, what, word})
	}
	if illuminantWord.MatchString(text) || observerWord.MatchString(text) {
		s.light(text, ofNothing, doubt)
		found = true
	}
	for _, w := range geometryWord.FindAllString(text, -1) {
		found, word = true, w
		if m, err := color.ParseMeasurement(strings.ReplaceAll(w, " ", "")); err == nil {
			s.way(m, doubt)
		} else {
			doubt(ofGeometry, "is no way of measuring known here")
		}
	}
	for _, w := range strongSpecular.FindAllString(text, -1) {
		found = true
		if m, err := color.ParseMeasurement(w); err == nil && m.Specular != "" {
			s.way(m, doubt)
		} else {
			doubt(ofSpecular, "is no specular mode known here")
		}
	}
	if percentWord.MatchString(text) {
		found = true
		s.percent(true)
	}
	return found
}

// quoteLong shows a line in a message.
func quoteLong(s string) string { return fmt.Sprintf("%q", oneLine(s, 80)) }

// ask reports what the file states and is not understood, unless an input
// settles it.
func (s *sheet) ask(o *Options, labs, spectra bool, p *problems) {
	for _, u := range s.unclear {
		hint, settled := "", false
		switch u.about {
		case ofIlluminant:
			settled = !labs || o.Condition.Illuminant != ""
			hint = "say " + remedy.Input("illuminant") + " if it is " + lights() + ", else export spectra"
		case ofObserver:
			settled = !labs || max(o.Condition.Observer, o.Observer) != 0
			hint = "say " + remedy.InputAs("observer", "2") + " or " + remedy.InputAs("observer", "10")
		case ofGeometry:
			settled = o.Measurement.Geometry != "" || o.Angles != "" && o.Angles == anglesOf(u.text)
			hint = sayGeometry(u.text)
		case ofSpecular:
			settled = o.Measurement.Specular != ""
			hint = "say " + remedy.InputAs("specular", "included") + " or " + remedy.InputAs("specular", "excluded")
		case ofNorm:
			settled = !spectra || o.Percent != nil
			hint = "say " + remedy.Input("percent") + " or " + remedy.InputAs("percent", "false")
		}
		if !settled {
			p.add(u.row, "", "", u.problem, hint)
		}
	}
}

// doubts tells whether something stated of a subject was not understood.
func (s *sheet) doubts(about subject) bool {
	return slices.ContainsFunc(s.unclear, func(u unclear) bool { return u.about == about })
}

func lights() string {
	all := color.Illuminants()
	names := make([]string, len(all))
	for i, l := range all {
		names[i] = string(l)
	}
	return "one of " + strings.Join(names, ", ")
}
