package figure_test

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/recipes/figure"
)

// TestNumber: seven significant digits, and null for what JSON has no number
// for (RFC 8259, section 6: "Infinity and NaN are not permitted").
func TestNumber(t *testing.T) {
	for v, want := range map[float64]string{
		0: "0", 1.0 / 3: "0.3333333", 66.42072499: "66.42072", -2: "-2", 1e-9: "1e-09", 12345678: "1.234568e+07",
		math.Inf(1): "null", math.Inf(-1): "null",
	} {
		got, err := json.Marshal(figure.Number(v))
		require.NoError(t, err)
		assert.Equal(t, want, string(got), v)
	}
	got, err := json.Marshal(figure.Number(math.NaN()))
	require.NoError(t, err)
	assert.Equal(t, "null", string(got))
}

func TestWhatIsLeftOut(t *testing.T) {
	assert.Nil(t, figure.Known(0))
	assert.Equal(t, figure.Number(0.5), *figure.Known(0.5))
	for _, v := range []float64{0, -1, 1e6, math.Inf(1), math.NaN()} {
		assert.Nil(t, figure.Finite(v), v)
	}
	assert.Equal(t, figure.Number(3), *figure.Finite(3))
}

func TestShort(t *testing.T) {
	for v, want := range map[float64]string{0.1 + 0.2: "0.3", 250: "250", 1e6: "1000000", 0.005: "0.005", -1.50: "-1.5"} {
		assert.Equal(t, want, figure.Short(v))
	}
}

func TestTimes(t *testing.T) {
	for d, want := range map[time.Duration]string{7 * time.Minute: "7m", time.Hour: "1h", 90 * time.Second: "1m30s", 90 * time.Minute: "1h30m"} {
		assert.Equal(t, want, figure.Duration(d))
	}
	late := time.Date(2026, 3, 31, 23, 30, 0, 0, time.FixedZone("", -2*3600)) // the next day in UTC
	assert.Equal(t, "2026-04-01", figure.Day(late))
	assert.Equal(t, "2026-04-01T01:30:00Z", figure.At(late))
}

// TestLabKeepsItsCondition: a colour of a result computes under the light its
// result names, and under none where that cannot be read.
func TestLabKeepsItsCondition(t *testing.T) {
	lab := figure.LabOf(color.Lab{L: 61.2, A: 38.9, B: 21.4})
	assert.Equal(t, color.Lab{L: 61.2, A: 38.9, B: 21.4, Under: color.D65Ten()}, lab.Color("D65/10"))
	assert.Equal(t, color.Condition{}, lab.Color("moonlight").Under)
}

func ExampleLoadings() {
	fmt.Println(figure.Loadings(map[string]float64{"RD": 0.2, "WH": 1.02, "BK": 0.2}))
	fmt.Println(figure.Loadings(map[string]float64{}))
	// Output:
	// WH 1.02, BK 0.2, RD 0.2
	// bare resin
}

func TestChanges(t *testing.T) {
	require.Equal(t, "BK 0.03 (as before), FG 0.19 (-0.020), WH 1.1 (+0.012)", figure.Changes(map[string]float64{"WH": 0.012, "FG": -0.02, "BK": 0.0001}, map[string]float64{"FG": 0.19, "WH": 1.1, "BK": 0.03}))
}

// TestGrams: a mass is shown as the scale shows it.
func TestGrams(t *testing.T) {
	for _, c := range []struct {
		grams, step float64
		want        string
	}{{241.723, 0.01, "241.72"}, {0.8, 0.01, "0.80"}, {14, 0.1, "14.0"}, {14.25, 0.05, "14.25"}, {250, 1, "250"}, {0.1234, 0.001, "0.123"}, {241.723, 0, "241.723"}} {
		require.Equal(t, c.want, figure.Grams(c.grams, c.step))
	}
}
