package readings

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"masstone/color"
)

// The elements of ISO 17972-1 that are written. Their names and order are from
// memory.
type (
	cxf struct {
		XMLName xml.Name  `xml:"CxF"`
		Space   string    `xml:"xmlns,attr"`
		File    cxfFile   `xml:"FileInformation"`
		Objects []cxfPart `xml:"Resources>ObjectCollection>Object"`
		Specs   []cxfSpec `xml:"Resources>ColorSpecificationCollection>ColorSpecification"`
	}
	cxfFile struct {
		Creator     string
		Created     string `xml:"CreationDate,omitempty"`
		Description string
	}
	cxfPart struct {
		Type    string       `xml:"ObjectType,attr"`
		Name    string       `xml:"Name,attr"`
		ID      string       `xml:"Id,attr"`
		Comment string       `xml:"Comment,omitempty"`
		Spectra *cxfSpectrum `xml:"ColorValues>ReflectanceSpectrum"`
		Labs    []cxfLab     `xml:"ColorValues>ColorCIELab"`
	}
	cxfSpectrum struct {
		Spec      string `xml:"ColorSpecification,attr"`
		Start     int    `xml:"StartWL,attr"`
		Increment int    `xml:"Increment,attr"`
		Values    string `xml:",chardata"`
	}
	cxfLab struct {
		Spec    string `xml:"ColorSpecification,attr"`
		L, A, B string
	}
	cxfSpec struct {
		ID       string       `xml:"Id,attr"`
		Light    *cxfLight    `xml:"TristimulusSpec"`
		Geometry *cxfGeometry `xml:"MeasurementSpec>GeometryChoice"`
		Device   *cxfDevice   `xml:"MeasurementSpec>Device"`
	}
	cxfLight    struct{ Illuminant, Observer string }
	cxfGeometry struct {
		Sphere *cxfSphere
		Angle  *cxfAngle `xml:"SingleAngle"`
	}
	cxfSphere struct {
		Mode string `xml:"SpecularMode,omitempty"`
	}
	cxfAngle  struct{ IlluminationAngle, MeasurementAngle string }
	cxfDevice struct {
		Model  string `xml:",omitempty"`
		Serial string `xml:"SerialNumber,omitempty"`
		Filter string `xml:"DeviceFilter,omitempty"`
		Lamp   string `xml:"DeviceIllumination,omitempty"`
	}
)

// specKey is what one specification of the file says.
type specKey struct {
	under  color.Condition
	how    color.Measurement
	angles string // stated, where how stands for them
	device cxfDevice
}

// WriteXML writes the readings of a table as ISO 17972-1 (CxF3): an object for
// each row, and a specification for each light and way of reading. lost says
// what the format has no place for: loadings, backings, castings, thicknesses. The
// error is one of writing, or spectra on several sets of bands.
func WriteXML(w io.Writer, t Table, h ExchangeHeader) (lost []string, err error) {
	if _, err := bandFields(t.Rows); err != nil {
		return nil, err
	}
	doc := cxf{Space: "http://colorexchangeformat.com/CxF3-core", File: cxfFile{oneLine(h.Originator, 1000), h.Created, oneLine(h.Descriptor, 1000)}}
	ids := map[specKey]string{}
	spec := func(r Row, under color.Condition) string {
		c := r.Circumstances
		k := specKey{under, r.Measurement, anglesOf(c.Geometry), cxfDevice{c.Instrument, c.Serial, c.Filter, c.Mode}}
		if ids[k] == "" {
			ids[k] = fmt.Sprintf("S%d", len(ids)+1)
			doc.Specs = append(doc.Specs, k.spec(ids[k]))
		}
		return ids[k]
	}
	for i, r := range t.Rows {
		o := cxfPart{Type: "Sample", Name: oneLine(r.Name, 200), ID: fmt.Sprintf("O%d", i+1), Comment: oneLine(r.Note, 1000)}
		if s := r.Spectrum; s != nil {
			values := make([]string, len(s.R))
			for k, v := range s.R {
				values[k] = exact(v)
			}
			o.Spectra = &cxfSpectrum{spec(r, color.Condition{}), s.FirstNM, s.StepNM, strings.Join(values, " ")}
		}
		for _, l := range r.Labs {
			o.Labs = append(o.Labs, cxfLab{spec(r, l.Under), exact(l.L), exact(l.A), exact(l.B)})
		}
		if o.Spectra != nil || o.Labs != nil {
			doc.Objects = append(doc.Objects, o)
		}
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return nil, err
	}
	out := xml.NewEncoder(w)
	out.Indent("", " ")
	if err := out.Encode(doc); err != nil {
		return nil, err
	}
	_, err = io.WriteString(w, "\n")
	return lostInXML(t), err
}

func (k specKey) spec(id string) cxfSpec {
	s := cxfSpec{ID: id}
	if k.under.Illuminant != "" {
		s.Light = &cxfLight{string(k.under.Illuminant), fmt.Sprintf("%d_Degree", k.under.Observer)}
	}
	light, view, other := strings.Cut(k.angles, "/")
	switch {
	case other:
		s.Geometry = &cxfGeometry{Angle: &cxfAngle{light, view}}
	case k.how.Geometry == color.Directional:
		s.Geometry = &cxfGeometry{Angle: &cxfAngle{"45", "0"}}
	case k.how.Geometry == color.Sphere:
		s.Geometry = &cxfGeometry{Sphere: &cxfSphere{map[color.Specular]string{color.SpecularIncluded: "Specular_Included", color.SpecularExcluded: "Specular_Excluded"}[k.how.Specular]}}
	}
	if k.device != (cxfDevice{}) {
		s.Device = &k.device
	}
	return s
}

func lostInXML(t Table) []string {
	var lost []string
	say := func(what string, is func(Row) bool) {
		for _, r := range t.Rows {
			if is(r) {
				lost = append(lost, what)
				return
			}
		}
	}
	if len(t.Pigments) > 0 {
		lost = append(lost, "loadings")
	}
	say("backings", func(r Row) bool { return r.Backing != "" })
	say("castings", func(r Row) bool { return r.Casting != "" })
	say("thicknesses", func(r Row) bool { return r.ThicknessMM != 0 })
	say("chip and scale grams", func(r Row) bool { return r.ChipGrams != 0 || r.ScaleGrams != 0 })
	say("specular modes without a geometry", func(r Row) bool { return r.Measurement.Geometry == "" && r.Measurement.Specular != "" })
	say("dates", func(r Row) bool { return r.Circumstances.Date != "" })
	say("temperatures", func(r Row) bool { return r.Circumstances.Temperature != "" })
	say("apertures", func(r Row) bool { return r.Circumstances.Aperture != "" })
	return lost
}
