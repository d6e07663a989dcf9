package readings_test

import (
	"bytes"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// testdata/iso28178/pairs.txt: wavelengths among the data, percent, conditions
// in the keywords, a doubled quotation mark.
func TestExchangeTextPairs(t *testing.T) {
	table, err := readings.Samples(openTest(t, "iso28178/pairs.txt"), readings.Options{})
	require.NoError(t, err)
	require.Equal(t, []string{"2 readings; ISO 28178 text; Lab under D50/2; reflectance 400-700 nm by 20 as percent; read 45/0 specular excluded"}, table.Notes)
	require.Len(t, table.Warnings, 1)
	require.ErrorContains(t, table.Warnings[0], "bands 20 nm apart")
	row := table.Rows[0]
	require.Equal(t, `Grey "N5"`, row.Name)
	require.Equal(t, 15, row.Line)
	require.Equal(t, color.Lab{L: 51.45, A: 0.08, B: 0.20, Under: color.Under(color.D50, 2)}, row.Labs[0])
	require.Equal(t, color.Measurement{Geometry: color.Directional, Specular: color.SpecularExcluded}, row.Measurement)
	require.Equal(t, 20, row.Spectrum.StepNM)
	require.Len(t, row.Spectrum.R, 16)
	require.InDelta(t, 0.1952, row.Spectrum.R[1], 1e-15)
}

// The spellings of band fields that are about, and the keywords that carry
// conditions.
func TestExchangeTextSpellings(t *testing.T) {
	for _, prefix := range []string{"SPECTRAL_NM", "SPECTRAL_NM_", "SPECTRAL_", "nm", "R_", "SPEC_", "NM_"} {
		for _, keywords := range []string{
			"WEIGHTING_FUNCTION \"ILLUMINANT, D65\"\nWEIGHTING_FUNCTION \"OBSERVER, 10 degree\"",
			"ILLUMINATION_NAME\t\"D65\"\nOBSERVER_ANGLE\t\"10\"",
			"MEASUREMENT_SOURCE \"Illumination=D65 ObserverAngle=10\"",
			"ILLUMINANT D65\nOBSERVER 10",
		} {
			var b strings.Builder
			b.WriteString("CGATS.17\n" + keywords + "\nSPECULAR \"excluded\"\nNUMBER_OF_FIELDS 35\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B")
			for nm := 400; nm <= 700; nm += 10 {
				b.WriteString(" " + prefix + itoa(nm))
			}
			b.WriteString("\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n1 58.45 0 0" + strings.Repeat(" 0.264", 31) + "\nEND_DATA\n")
			table, err := readings.Samples(strings.NewReader(b.String()), readings.Options{})
			require.NoError(t, err, prefix+" "+keywords)
			require.Equal(t, color.D65Ten(), table.Rows[0].Labs[0].Under)
			require.Equal(t, 0.264, table.Rows[0].Spectrum.R[30])
			require.Equal(t, color.SpecularExcluded, table.Rows[0].Measurement.Specular)
			require.Empty(t, table.Warnings)
		}
	}
}

func itoa(n int) string {
	return string([]byte{'0' + byte(n/100), '0' + byte(n/10%10), '0' + byte(n%10)})
}

func TestExchangeTextLayout(t *testing.T) {
	head := "ISO28178\nILLUMINANT D65\nOBSERVER 10\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
	sets := "BEGIN_DATA\nA 50 1 2\nB 60 1 2\nEND_DATA\n"
	for name, data := range map[string]string{
		"plain":    head + "NUMBER_OF_SETS 2\n" + sets,
		"no count": head + sets,
		"wrapped":  head + "NUMBER_OF_SETS 2\nBEGIN_DATA\nA 50\n1 2\nB 60 1\n2\nEND_DATA\n",
		"comments": head + "NUMBER_OF_SETS 2 # two\nBEGIN_DATA # here\nA 50 1 2 # first\n# second\nB 60 1 2\nEND_DATA\n",
		"second":   head + sets + head + sets,
	} {
		table, err := readings.Samples(strings.NewReader(data), readings.Options{File: "f"})
		require.NoError(t, err, name)
		require.Len(t, table.Rows, 2, name)
		require.Equal(t, 60.0, table.Rows[1].Labs[0].L, name)
		if name == "second" {
			require.Contains(t, table.Notes, "only the first of 2 tables in the file is used")
		}
	}
}

// testdata/iso17972/parts.cxf
func TestExchangeXML(t *testing.T) {
	table, err := readings.Samples(openTest(t, "iso17972/parts.cxf"), readings.Options{})
	require.NoError(t, err)
	require.Equal(t, []string{"3 readings; ISO 17972 XML; Lab under D65/10; reflectance 400-700 nm by 10 as fractions; read 45/0 specular excluded"}, table.Notes)
	require.Empty(t, table.Warnings)
	first, second, third := table.Rows[0], table.Rows[1], table.Rows[2]
	require.Equal(t, "Harbour lamp housing", first.Name)
	require.Equal(t, 10, first.Line)
	require.Equal(t, color.Lab{L: 55.49, A: 41.99, B: 44.93, Under: color.D65Ten()}, first.Labs[0])
	require.Equal(t, color.Measurement{Geometry: color.Directional, Specular: color.SpecularExcluded}, first.Measurement)
	require.Equal(t, 0.6560, first.Spectrum.R[30])
	require.Empty(t, second.Labs)
	require.Equal(t, 0.2210, second.Spectrum.R[0])
	require.Nil(t, third.Spectrum)
	require.Equal(t, 41.20, third.Labs[0].L)
}

const xmlHead = `<CxF xmlns="http://colorexchangeformat.com/CxF3-core"><Resources><ObjectCollection>`
const xmlTail = `</ObjectCollection><ColorSpecificationCollection>
<ColorSpecification Id="T"><TristimulusSpec><Illuminant>D50</Illuminant><Observer>2_Degree</Observer></TristimulusSpec></ColorSpecification>
<ColorSpecification Id="I"><MeasurementSpec><GeometryChoice><Sphere><SpecularMode>Specular_Included</SpecularMode></Sphere></GeometryChoice><WavelengthRange StartWL="400" Increment="10"/></MeasurementSpec></ColorSpecification>
<ColorSpecification Id="E"><MeasurementSpec><GeometryChoice><Sphere Specular="SCE"/></GeometryChoice><WavelengthRange StartWL="400" Increment="10"/></MeasurementSpec></ColorSpecification>
</ColorSpecificationCollection></Resources></CxF>`

func TestExchangeXMLCases(t *testing.T) {
	bands := strings.TrimSpace(strings.Repeat("0.25 ", 31))
	lab := `<ColorCIELab ColorSpecification="T"><L>50</L><A>1</A><B>2</B></ColorCIELab>`
	object := func(body string) string { return `<Object Name="A"><ColorValues>` + body + `</ColorValues></Object>` }
	spectrum := func(spec string) string {
		return `<ReflectanceSpectrum ColorSpecification="` + spec + `">` + bands + `</ReflectanceSpectrum>`
	}
	for name, c := range map[string]struct {
		body string
		o    readings.Options
		want string
	}{
		"lab":          {body: object(lab)},
		"by option":    {body: object(strings.Replace(lab, `"T"`, `"nowhere"`, 1)), o: readings.Options{Condition: color.Under(color.D50, 2)}},
		"mode settled": {body: object(spectrum("I") + spectrum("E") + lab), o: readings.Options{Measurement: color.Measurement{Specular: color.SpecularExcluded}}, want: "differ by"},
	} {
		table, err := readings.Samples(strings.NewReader(xmlHead+c.body+xmlTail), func() readings.Options { c.o.File = "f"; return c.o }())
		if c.want != "" {
			require.ErrorContains(t, err, c.want, name)
			continue
		}
		require.NoError(t, err, name)
		require.Equal(t, color.Lab{L: 50, A: 1, B: 2, Under: color.Under(color.D50, 2)}, table.Rows[0].Labs[0], name)
	}
	for mode, id := range map[color.Specular]string{color.SpecularIncluded: "I", color.SpecularExcluded: "E"} {
		table, err := readings.Samples(strings.NewReader(xmlHead+object(spectrum(id))+xmlTail), readings.Options{})
		require.NoError(t, err)
		require.Equal(t, color.Measurement{Geometry: color.Sphere, Specular: mode}, table.Rows[0].Measurement)
	}
}

// Files made to hurt: entities, depth, one endless token.
func TestHostileXML(t *testing.T) {
	for name, c := range map[string]struct{ data, want string }{
		"entities":   {`<?xml version="1.0"?><!DOCTYPE CxF [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><CxF>&b;</CxF>`, "declares a document type"},
		"external":   {`<!DOCTYPE CxF SYSTEM "file:///etc/passwd"><CxF/>`, "declares a document type"},
		"unknown":    {`<CxF>&passwd;</CxF>`, "is no readable XML: syntax error"},
		"depth":      {strings.Repeat("<CxF>", 100), "is nested deeper than 64"},
		"attributes": {"<CxF " + strings.Repeat(`a="" `, 400_000) + "/>", "longer than a megabyte"},
		"text":       {"<CxF>" + strings.Repeat("x", 3<<20), "longer than a megabyte"},
		"cut off":    {"<CxF><Resources>", "is no readable XML"},
	} {
		_, err := readings.Samples(strings.NewReader(c.data), readings.Options{File: "f"})
		require.ErrorContains(t, err, c.want, name)
		require.Len(t, strings.Split(err.Error(), "\n"), 1, name)
	}
}

func TestXMLEncodings(t *testing.T) {
	body := xmlHead + `<Object Name="Gr` + "\xFC" + `n"><ColorValues><ColorCIELab ColorSpecification="T"><L>50</L><A>1</A><B>2</B></ColorCIELab></ColorValues></Object>` + xmlTail
	table, err := readings.Samples(bytes.NewReader([]byte(`<?xml version="1.0" encoding="ISO-8859-1"?>`+body)), readings.Options{})
	require.NoError(t, err)
	require.Equal(t, "Grün", table.Rows[0].Name)
	_, err = readings.Samples(strings.NewReader(`<?xml version="1.0" encoding="KOI8-R"?>`+body), readings.Options{File: "f"})
	require.ErrorContains(t, err, `encoding "KOI8-R" is not read`)
}

// A keyword repeated without end must not be gathered without end: beyond so many a
// line costs no more than to be looked at.
func TestRepeatedKeywordsAreQuick(t *testing.T) {
	for _, line := range []string{"WEIGHTING_FUNCTION \"ILLUMINANT, D65\"", "ILLUMINANT \"F99\""} {
		allocated := func(times int) float64 {
			data := "BEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n" + strings.Repeat(line+"\n", times) + "BEGIN_DATA\nred 50 40 20\nEND_DATA\n"
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := readings.Samples(strings.NewReader(data), readings.Options{File: "f"})
			runtime.ReadMemStats(&after)
			require.Equal(t, strings.Contains(line, "F99"), err != nil)
			return float64(after.TotalAlloc - before.TotalAlloc)
		}
		few, many := allocated(10_000), allocated(100_000)
		each := (many - few) / 90_000
		require.Less(t, each, 400., "%s: bytes for each further line; 625 and 178,802 where all are gathered, 207 and 131 where not", line)
	}
}
