package readings_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

// What the warning of 20 nm bands says is what the real paints of
// testdata/real_pigments come to when every second band is left out.
func TestWideBandsWarningIsMeasured(t *testing.T) {
	worst := map[color.Illuminant]float64{}
	for _, r := range realChips(t).Rows {
		wide := everySecondBand(*r.Spectrum)
		for _, light := range color.Illuminants() {
			under := color.Under(light, color.TenDegree)
			fine, err := r.Spectrum.Lab(under)
			require.NoError(t, err)
			coarse, err := wide.Lab(under)
			require.NoError(t, err)
			worst[light] = math.Max(worst[light], color.Delta00(fine.Values(), coarse.Values()))
		}
	}
	others := 0.0
	for light, de := range worst {
		if light != color.FL11 {
			others = math.Max(others, de)
		}
	}
	var data strings.Builder
	data.WriteString("name")
	for nm := 400; nm <= 700; nm += 20 {
		fmt.Fprintf(&data, ",R%d", nm)
	}
	data.WriteString("\ngrey" + strings.Repeat(",0.05", 16) + "\n")
	table, err := readings.Samples(strings.NewReader(data.String()), readings.Options{})
	require.NoError(t, err)
	require.Len(t, table.Warnings, 1)
	require.Contains(t, table.Warnings[0].Problem, fmt.Sprintf("by up to CIEDE2000 %.1f under FL11 and %.1f under other lights", worst[color.FL11], others))
}

func everySecondBand(s color.Spectrum) color.Spectrum {
	wide := color.Spectrum{FirstNM: s.FirstNM, StepNM: 2 * s.StepNM}
	for k := 0; k < len(s.R); k += 2 {
		wide.R = append(wide.R, s.R[k])
	}
	return wide
}
