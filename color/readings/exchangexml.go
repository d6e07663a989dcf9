package readings

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"golang.org/x/text/encoding/charmap"

	"masstone/color"
)

// Limits of an ISO 17972-1 file.
const (
	maxDepth     = 64
	maxXMLToken  = 1 << 20 // bytes of one tag, text or comment
	maxPerObject = 200     // values of one object
	maxValues    = 500_000 // of all objects
)

// exchangeObject is one object of the file: a named piece and its values, whose
// conditions stand elsewhere under an id.
type exchangeObject struct {
	line    int
	name    string
	id      string
	kind    string // Standard, Sample, ...
	labs    []exchangeLab
	spectra []exchangeSpectrum
}

type exchangeLab struct {
	spec string
	in   space
	v    [3]string
}

func (s space) element() string { return "ColorCIE" + s.String() }

// exchangeColors are the elements that hold a colour, with the elements of its
// axes. From memory.
var exchangeColors = map[string]struct {
	in   space
	axes []string
}{
	inLab.element(): {inLab, []string{"L", "A", "B"}},
	inLCh.element(): {inLCh, []string{"L", "C", "H"}},
	inXYZ.element(): {inXYZ, []string{"X", "Y", "Z"}},
}

type exchangeSpectrum struct {
	spec           string
	start, between string
	values         string
}

// exchangeSpec is a ColorSpecification: what a value was measured or computed
// under.
type exchangeSpec struct {
	illuminant, observer string
	start, between       string
	line                 int
	geometry             color.Geometry
	geometryWords        string // as the file has them
	lightAt, viewAt      string
	specular             color.Specular
	strangeMode          string // a specular mode in words not known here
	taken                Circumstances
}

// exchangeXMLSheet reads Lab and reflectance spectra of an ISO 17972-1 file
// (CxF3). The file is walked token by token; document types are refused, so
// that there are no entities to expand.
func exchangeXMLSheet(data []byte, o *Options) (*sheet, error) {
	x := &exchangeXML{file: o.File, limit: &tokenLimit{r: bytes.NewReader(data)}, specs: map[string]*exchangeSpec{}}
	x.d = xml.NewDecoder(x.limit)
	x.d.CharsetReader = westernXML
	if err := x.walk(); err != nil {
		return nil, err
	}
	return x.sheet(o)
}

// tokenLimit stops the decoder from gathering one endless token.
type tokenLimit struct {
	r    *bytes.Reader
	left int
}

var errTokenTooLong = errors.New("one tag or text is longer than a megabyte")

func (l *tokenLimit) ReadByte() (byte, error) {
	if l.left--; l.left < 0 {
		return 0, errTokenTooLong
	}
	return l.r.ReadByte()
}

func (l *tokenLimit) Read(p []byte) (int, error) {
	if l.left < 0 {
		return 0, errTokenTooLong
	}
	n, err := l.r.Read(p[:min(len(p), 4096)])
	l.left -= n
	return n, err
}

// westernXML serves the single-byte encodings instruments declare; the text of
// others has been brought to UTF-8 before.
func westernXML(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "iso-8859-1", "latin1", "windows-1252":
		return charmap.Windows1252.NewDecoder().Reader(in), nil
	case "us-ascii", "ascii", "utf-16":
		return in, nil
	}
	return nil, fmt.Errorf("encoding %s is not read", quote(label))
}

type exchangeXML struct {
	file    string
	limit   *tokenLimit
	d       *xml.Decoder
	path    []string
	text    strings.Builder
	object  *exchangeObject
	spec    *exchangeSpec
	objects []exchangeObject
	values  int
	specs   map[string]*exchangeSpec
}

func (x *exchangeXML) bad(problem, hint string) error {
	line, _ := x.d.InputPos()
	return &RowError{File: x.file, Row: line, Problem: problem, Hint: hint}
}

func (x *exchangeXML) walk() error {
	for {
		x.limit.left = maxXMLToken
		t, err := x.d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return x.bad("is no readable XML: "+strings.TrimPrefix(err.Error(), "XML "), "export it again")
		}
		switch t := t.(type) {
		case xml.Directive:
			return x.bad("declares a document type", "delete the <!DOCTYPE ...> part; readings need none")
		case xml.StartElement:
			if len(x.path) == 0 && t.Name.Local != "CxF" {
				return x.bad("is XML but not of ISO 17972: it opens with "+quote(t.Name.Local), "export CxF3, CSV or ISO 28178 text")
			}
			if x.path = append(x.path, t.Name.Local); len(x.path) > maxDepth {
				return x.bad(fmt.Sprintf("is nested deeper than %d", maxDepth), "is this the right file?")
			}
			x.text.Reset()
			if err := x.start(t); err != nil {
				return err
			}
		case xml.CharData:
			if x.object != nil || x.spec != nil {
				if x.text.Len()+len(t) > maxXMLToken {
					return x.bad("holds a text longer than a megabyte", "is this the right file?")
				}
				x.text.Write(t)
			}
		case xml.EndElement:
			x.end(t.Name.Local)
			x.path = x.path[:len(x.path)-1]
			x.text.Reset()
		}
	}
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return strings.TrimSpace(a.Value)
		}
	}
	return ""
}

func (x *exchangeXML) start(t xml.StartElement) error {
	switch t.Name.Local {
	case "Object":
		line, _ := x.d.InputPos()
		x.object = &exchangeObject{line: line, name: attribute(t, "Name"), id: attribute(t, "Id"), kind: attribute(t, "ObjectType")}
		return nil
	case "ColorSpecification":
		if id := attribute(t, "Id"); x.object == nil && id != "" {
			if len(x.specs) >= maxRows {
				return x.bad("has too many colour specifications", "is this the right file?")
			}
			line, _ := x.d.InputPos()
			x.spec = &exchangeSpec{line: line}
			x.specs[id] = x.spec
		}
		return nil
	}
	if x.object != nil {
		if len(x.object.labs)+len(x.object.spectra) > maxPerObject {
			return x.bad(fmt.Sprintf("object %s holds more than %d values", quote(x.object.name), maxPerObject), "is this the right file?")
		}
		if x.values > maxValues || len(x.objects) >= maxRows {
			return x.bad(fmt.Sprintf("more than %d objects or %d values", maxRows, maxValues), "split the file")
		}
		if c, ok := exchangeColors[t.Name.Local]; ok {
			x.values++
			x.object.labs = append(x.object.labs, exchangeLab{spec: attribute(t, "ColorSpecification"), in: c.in})
		}
		if t.Name.Local == "ReflectanceSpectrum" {
			x.values++
			x.object.spectra = append(x.object.spectra, exchangeSpectrum{spec: attribute(t, "ColorSpecification"), start: attribute(t, "StartWL"), between: attribute(t, "Increment")})
		}
	}
	if x.spec != nil {
		if t.Name.Local == "WavelengthRange" {
			x.spec.start, x.spec.between = attribute(t, "StartWL"), attribute(t, "Increment")
		}
		if x.inside("GeometryChoice") {
			x.spec.sphere(t.Name.Local)
			if t.Name.Local != "GeometryChoice" && x.spec.geometryWords == "" {
				x.spec.geometryWords = t.Name.Local
			}
			for _, a := range t.Attr {
				x.spec.mode(a.Name.Local, strings.TrimSpace(a.Value))
			}
		}
	}
	return nil
}

// sphere takes a geometry from the name of its element.
func (s *exchangeSpec) sphere(name string) {
	if strings.Contains(strings.ToLower(name), "sphere") {
		s.geometry = color.Sphere
	}
}

// mode takes the specular mode wherever the geometry states it: in a word, or as
// the truth of an element or attribute that is named for it.
func (s *exchangeSpec) mode(name, text string) {
	name, said := strings.ToLower(name), false
	named := strings.Contains(name, "specular") || strings.Contains(name, "gloss")
	yes := strings.EqualFold(text, "true") || text == "1"
	if named && (yes || strings.EqualFold(text, "false") || text == "0") {
		said, s.specular = true, color.SpecularExcluded
		if yes != strings.Contains(name, "exclu") {
			s.specular = color.SpecularIncluded
		}
	}
	for _, word := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r == '_' || r == ' ' || r == '-' }) {
		if m, err := color.ParseSpecular(word); err == nil {
			said, s.specular = true, m
		}
	}
	if named && !said && text != "" {
		s.strangeMode = text
	}
}

func (x *exchangeXML) inside(element string) bool {
	for _, p := range x.path {
		if p == element {
			return true
		}
	}
	return false
}

func (x *exchangeXML) end(name string) {
	text := strings.TrimSpace(x.text.String())
	if x.object != nil {
		if n := len(x.object.labs); n > 0 && len(x.path) > 1 {
			if axis := slices.Index(exchangeColors[x.path[len(x.path)-2]].axes, name); axis >= 0 {
				x.object.labs[n-1].v[axis] = text
			}
		}
		switch name {
		case "Object":
			if len(x.object.labs)+len(x.object.spectra) > 0 {
				x.objects = append(x.objects, *x.object)
			}
			x.object = nil
		case "ReflectanceSpectrum":
			x.object.spectra[len(x.object.spectra)-1].values = text
		}
		return
	}
	if x.spec == nil {
		return
	}
	switch name {
	case "ColorSpecification":
		if x.spec.lightAt != "" || x.spec.viewAt != "" {
			x.spec.geometryWords = x.spec.lightAt + "/" + x.spec.viewAt
			if g, err := color.ParseGeometry(x.spec.geometryWords); err == nil && x.spec.geometry == "" {
				x.spec.geometry = g
			}
		}
		x.spec = nil
	case "Illuminant":
		x.spec.illuminant = text
	case "Observer":
		x.spec.observer = text
	case "IlluminationAngle":
		x.spec.lightAt = text
	case "MeasurementAngle":
		x.spec.viewAt = text
	case "DeviceFilter":
		x.spec.taken.Filter = tidy(text, 200)
	case "DevicePolarization":
		if strings.EqualFold(text, "true") {
			x.spec.taken.Filter = strings.TrimSpace(x.spec.taken.Filter + " polarized")
		}
	case "DeviceIllumination":
		x.spec.taken.Mode = tidy(text, 200)
	case "Manufacturer", "Model":
		x.spec.taken.Instrument = tidy(x.spec.taken.Instrument+" "+text, 200)
	case "Aperture":
		x.spec.taken.Aperture = tidy(text, 200)
	case "SerialNumber":
		x.spec.taken.Serial = tidy(text, 200)
	default:
		if x.inside("GeometryChoice") {
			x.spec.mode(name, text)
		}
	}
}
