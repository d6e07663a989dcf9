package readings_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color/readings"
)

// TestStandardAndTrial: columns for the name of a standard and of what is
// compared with it, as comparing programs lay them out. Each row is a trial, and
// the standard a reading of its own; nothing of two things is averaged.
func TestStandardAndTrial(t *testing.T) {
	for name, c := range map[string]struct {
		data string
		want map[string]float64 // L* by name
		note string
	}{
		"standard with a row of its own": {"Standard Name,Trial Name,L_D65,a_D65,b_D65\nred,,50,40,20\nred,T1,52,40,20\nred,T2,53,40,20\n",
			map[string]float64{"red": 50, "T1": 52, "T2": 53}, ""},
		"a dash for no trial":    {"Standard,Sample,L_D65,a_D65,b_D65\nred,-,50,40,20\nred,T1,52,40,20\n", map[string]float64{"red": 50, "T1": 52}, ""},
		"no row of the standard": {"Standard,Sample Name,L_D65,a_D65,b_D65\nred,T1,52,40,20\nred,T1,53,40,20\n", map[string]float64{"T1": 52.5}, ""},
		"a trial of its name": {"Standard,Trial,L_D65,a_D65,b_D65\nred,,50,40,20\nred,red,52,40,20\n",
			map[string]float64{"red (standard)": 50, "red (trial)": 52}, "a standard and a trial of one name are two pieces: red"},
		"trials of one name": {"Standard,Trial,L_D65,a_D65,b_D65\nred,T1,52,40,20\nblue,T1,32,10,-40\n",
			map[string]float64{"T1 (of red)": 52, "T1 (of blue)": 32}, "trials of one name and several standards are as many pieces: T1"},
		"a column of types": {"Standard,Trial,Type,L_D65,a_D65,b_D65\nred,red,Standard,50,40,20\nred,red,Trial,52,40,20\n",
			map[string]float64{"red (standard)": 50, "red (trial)": 52}, "a standard and a trial of one name"},
		"numbered trials": {"Standard,Sample ID,L_D65,a_D65,b_D65\nred,1,52,40,20\nred,2,53,40,20\n", map[string]float64{"1": 52, "2": 53}, ""},
		"numbered rows":   {"No.,Standard,L_D65,a_D65,b_D65\n1,red,52,40,20\n2,blue,53,40,20\n", map[string]float64{"red": 52, "blue": 53}, ""},
		"side by side": {"Standard,Trial,L*(D65) Std,a*(D65) Std,b*(D65) Std,L*(D65) Trial,a*(D65) Trial,b*(D65) Trial\nred,T1,50,40,20,52,40,20\nred,T2,50,40,20,53,40,20\nblue,T3,30,10,-40,32,10,-40\n",
			map[string]float64{"red": 50, "T1": 52, "T2": 53, "blue": 30, "T3": 32}, "a standard's readings beside those of its trials are a reading of its own"},
	} {
		t.Run(name, func(t *testing.T) {
			table, err := readings.Samples(strings.NewReader(c.data), readings.Options{File: "f"})
			require.NoError(t, err)
			pieces, err := readings.Pieces("f", table.Rows)
			require.NoError(t, err)
			got := map[string]float64{}
			for _, p := range pieces {
				got[p.Name] = p.Labs[0].L
			}
			assert.Equal(t, c.want, got)
			if c.note != "" {
				assert.Contains(t, strings.Join(table.Notes, "\n"), c.note)
			}
		})
	}
}

// A column of deviations is no reading of a standard where none is named.
func TestDeviationsAreNoStandard(t *testing.T) {
	_, err := readings.Samples(strings.NewReader("name,L_D65,a_D65,b_D65,L_D65 std\nred,50,40,20,0.1\n"), readings.Options{File: "f"})
	require.ErrorContains(t, err, "f:1: column L_D65 std: is unknown")
}
