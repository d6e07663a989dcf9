package color

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseMeasurement(t *testing.T) {
	for text, want := range map[string]Geometry{"d/8": Sphere, "D:8°": Sphere, "45/0": Directional, "45°:0°": Directional, "0/45": Directional} {
		got, err := ParseGeometry(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for text, want := range map[string]Specular{"included": SpecularIncluded, "SCI": SpecularIncluded, " spex ": SpecularExcluded, "Excluded": SpecularExcluded} {
		got, err := ParseSpecular(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	_, err := ParseGeometry("8/d/8")
	assert.ErrorContains(t, err, "use d/8 or 45/0")
	_, err = ParseSpecular("yes")
	assert.ErrorContains(t, err, "use included or excluded")
}

// The notations di:8 and de:8 are those of CIE 15:2018, 5; the phrases are from
// memory of what instruments write.
func TestParseMeasurementPhrases(t *testing.T) {
	for text, want := range map[string]Measurement{
		"d:8 SPIN":                              {Sphere, SpecularIncluded},
		"di:8°":                                 {Sphere, SpecularIncluded},
		"de:8":                                  {Sphere, SpecularExcluded},
		"integrating sphere, specular excluded": {Sphere, SpecularExcluded},
		"d/8":                                   {Geometry: Sphere},
		"SCE":                                   {Specular: SpecularExcluded},
		"45.0/0.0":                              {Directional, SpecularExcluded},
		"45a:0":                                 {Directional, SpecularExcluded},
	} {
		got, err := ParseMeasurement(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "45/15", "d:8 SPIN SPEX", "specular", "d/8 45/0", "sphere of glass"} {
		_, err := ParseMeasurement(text)
		assert.ErrorContains(t, err, "unknown way of measuring", text)
	}
}

func TestMeasurementNotSaid(t *testing.T) {
	assert.Equal(t, "45/0", Measurement{Geometry: Directional}.String())
	assert.Equal(t, "specular excluded", Measurement{Specular: SpecularExcluded}.String())
	assert.Equal(t, "not said", Measurement{}.String())
	assert.Equal(t, Measurement{Directional, SpecularExcluded}, Measurement{Geometry: Directional}.Usual())
	assert.Equal(t, Measurement{Sphere, SpecularIncluded}, Measurement{}.Usual())
	assert.Equal(t, Measurement{Sphere, SpecularExcluded}, Measurement{Specular: SpecularExcluded}.Usual())
}

func TestMeasurementCheck(t *testing.T) {
	assert.NoError(t, Measurement{Sphere, SpecularIncluded}.Check())
	assert.NoError(t, Measurement{Directional, SpecularExcluded}.Check())
	assert.ErrorContains(t, Measurement{Directional, SpecularIncluded}.Check(), "cannot include")
	assert.ErrorContains(t, Measurement{"45:0", SpecularIncluded}.Check(), "unknown geometry")
	assert.ErrorContains(t, Measurement{}.Check(), "unknown geometry")
	assert.ErrorContains(t, Measurement{Geometry: Sphere}.Check(), "unknown specular")
	assert.Equal(t, "d/8 specular included", Measurement{Sphere, SpecularIncluded}.String())
}

func FuzzParseMeasurement(f *testing.F) {
	for _, s := range []string{"d/8", "45/0", "0:45", "included", "SPEX", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if g, err := ParseGeometry(s); err == nil {
			again, err := ParseGeometry(string(g))
			require.NoError(t, err)
			require.Equal(t, g, again)
		}
		if m, err := ParseSpecular(s); err == nil {
			again, err := ParseSpecular(string(m))
			require.NoError(t, err)
			require.Equal(t, m, again)
		}
	})
}
