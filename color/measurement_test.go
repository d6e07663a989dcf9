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
