package readings

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
)

// Headers as instruments, spreadsheets and ISO 28178 files spell them; common
// practice, no source.
func TestUnderstand(t *testing.T) {
	o := &Options{KnownPigments: []string{"WH", "OR", "Y", "RDX", "rdx", "C"}, Map: map[string]string{"Farbe": "chip", "Ti": "WH", "Zustand": "ignore", "D65LAB_L": "L_D65_10"}}
	d65 := setKey{illuminant: color.D65}
	d65ten := setKey{illuminant: color.D65, observer: 10}
	lab := func(axis int, key setKey) column { return column{role: labColumn, axis: axis, set: key} }
	nm := func(n int) column { return column{role: bandColumn, nm: n} }
	for header, want := range map[string]column{
		"chip":            {role: nameColumn},
		"Chip Name":       {role: nameColumn},
		"mix":             {role: nameColumn},
		"SAMPLE_NAME":     {role: sampleColumn},
		"Standard":        {role: standardColumn},
		"Trial name":      {role: sampleColumn},
		"SAMPLE_ID":       {role: idColumn},
		"No.":             {role: idColumn},
		"Backing":         {role: backingColumn},
		"over":            {role: backingColumn},
		"thickness_mm":    {role: thicknessColumn, scale: 1},
		"Thickness (mm)":  {role: thicknessColumn, scale: 1},
		"thickness [µm]":  {role: thicknessColumn, scale: 1e-3},
		"Thickness (in)":  {role: thicknessColumn, scale: 25.4},
		"thickness_cm":    {role: thicknessColumn, scale: 10},
		"chip_grams":      {role: chipGramsColumn},
		"scale_g":         {role: scaleColumn},
		"Illuminant":      {role: illuminantColumn},
		"Observer angle":  {role: observerColumn},
		"specular":        {role: specularColumn},
		"geometry":        {role: geometryColumn},
		"Remarks":         {role: noteColumn},
		"C*":              {role: ignored},
		"ΔE*ab":           {role: ignored},
		"X":               {role: ignored},
		"WH":              {role: pigmentColumn, pigment: "WH"},
		"wh":              {role: pigmentColumn, pigment: "WH"},
		"WH (phr)":        {role: pigmentColumn, pigment: "WH"},
		"WH_phr":          {role: pigmentColumn, pigment: "WH"},
		"Y":               {role: pigmentColumn, pigment: "Y"},
		"y":               {role: ignored},
		"RDX":             {role: pigmentColumn, pigment: "RDX"},
		"RdX":             {},
		"Ti":              {role: pigmentColumn, pigment: "WH"},
		"Farbe":           {role: nameColumn},
		"Zustand":         {role: ignored},
		"D65LAB_L":        lab(0, d65ten),
		"L":               lab(0, setKey{}),
		"a*":              lab(1, setKey{}),
		"CIE b*":          lab(2, setKey{}),
		"LAB_A":           lab(1, setKey{}),
		"L_D65":           lab(0, d65),
		"a_A":             lab(1, setKey{illuminant: color.A}),
		"A_a":             lab(1, setKey{illuminant: color.A}),
		"b_C":             lab(2, setKey{illuminant: color.C}),
		"L_F11":           lab(0, setKey{illuminant: color.FL11}),
		"L_LED-B3":        lab(0, setKey{illuminant: color.LEDB3}),
		"b_led_b3":        lab(2, setKey{illuminant: color.LEDB3}),
		"L*(D65)":         lab(0, d65),
		"L*(10°/D65)":     lab(0, d65ten),
		"D65/10 a*":       lab(1, d65ten),
		"LAB_B_FL11_10":   lab(2, setKey{illuminant: color.FL11, observer: 10}),
		"L* (D65/2°)":     lab(0, setKey{illuminant: color.D65, observer: 2}),
		"b*(D65) SCI":     lab(2, setKey{illuminant: color.D65, specular: color.SpecularIncluded}),
		"b*(D65) SCE":     lab(2, setKey{illuminant: color.D65, specular: color.SpecularExcluded}),
		"L_D65_A":         {},
		"L_Q":             {},
		"R400":            nm(400),
		"R_710":           nm(710),
		"400":             nm(400),
		"400 nm":          nm(400),
		"400.0":           nm(400),
		"R[400nm]":        nm(400),
		"nm400":           nm(400),
		"NM_400":          nm(400),
		"SPECTRAL_400":    nm(400),
		"SPECTRAL_NM400":  nm(400),
		"SPECTRAL_NM_400": nm(400),
		"SPEC_400":        nm(400),
		"%R400":           {role: bandColumn, nm: 400, percent: true},
		"R400 (%)":        {role: bandColumn, nm: 400, percent: true},
		"R99":             {},
		"R9999":           {},
		"strength":        {},
		"":                {},
	} {
		got := understand(header, o)
		want.header = header
		require.Equal(t, want, got, "%q", header)
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct{ header, want string }{
		{"WHT", "WH"}, {"RR", "RD"}, {"bakcing", "backing"}, {"thicknes_mm", "thickness_mm"}, {"umbrella", ""}, {"", ""},
	} {
		got, _ := nearest(c.header, []string{"OR", "WH", "RD"})
		require.Equal(t, c.want, got, c.header)
	}
}

// Levenshtein's own kind of example: one, two and three edits.
func TestEditDistance(t *testing.T) {
	require.Equal(t, 0, editDistance("blue", "blue"))
	require.Equal(t, 3, editDistance("kitten", "sitting"))
	require.Equal(t, 4, editDistance("", "blue"))
	require.Equal(t, editDistance("ab", "ba"), editDistance("ba", "ab"))
}
