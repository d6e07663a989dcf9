package papers_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

// A way on may take less than was planned, when less goes in than the sheet
// says.
func TestRescueTellsMoreFromLess(t *testing.T) {
	sheet, err := batch.Plan(batch.Request{Recipe: map[string]batch.PHR{"WH": 1}, Order: batch.Order{Total: batch.Grams(250)},
		Resin: batch.Resin{Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: batch.SideB}, Scale: batch.Scale{Step: batch.Grams(0.01)}, Handling: batch.UsualHandling()})
	require.NoError(t, err)
	for grams, want := range map[float64]string{247.84: "247.84 g in all, 2.16 g less than planned", 250: "250.00 g in all, no more than planned", 251.5: "251.50 g in all, 1.50 g more than planned"} {
		sheet := papers.BatchSheet{Heading: papers.Heading{Made: time.Date(2026, 3, 31, 0, 0, 0, 0, time.UTC)}, Batch: "B1", Recipe: "R1", Resin: "CLR", Sheet: sheet,
			Rescue: &batch.Rescue{Remedies: []batch.Remedy{{Way: batch.SameResin, Total: batch.Grams(grams), Extra: batch.Grams(grams - 250)}}}}
		var out bytes.Buffer
		require.NoError(t, papers.Write(&out, sheet, papers.Text, papers.Options{}))
		require.Contains(t, out.String(), want)
	}
}
