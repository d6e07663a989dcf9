package color

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ISO/CIE 11664-1 from a second source, at 5 nm.
func TestObserverTables(t *testing.T) {
	rows := readFigures(t, "iso11664/observers_5nm.csv")
	require.Len(t, rows, 95)
	for i, row := range rows {
		for observer, names := range map[Observer][3]string{
			TwoDegree: {"x2", "y2", "z2"}, TenDegree: {"x10", "y10", "z10"},
		} {
			for k, want := range row.triple(t, names[0], names[1], names[2]) {
				assert.Equal(t, want, tables().matching[observer][k][5*i], "%s at %s nm", names[k], row["nm"])
			}
		}
	}
}

// Between the checked values the tables must run smoothly: no value may leave
// the line between its neighbours by more than curvature explains, so that one
// wrong digit shows.
func TestObserverTablesAreSmooth(t *testing.T) {
	for observer, match := range tables().matching {
		for k, c := range match {
			for i := 2; i < len(c)-2; i++ {
				kink := c[i-2] - 4*c[i-1] + 6*c[i] - 4*c[i+1] + c[i+2] // fourth difference
				assert.InDelta(t, 0, kink, 3e-3, "observer %d, row %d, %d nm", observer, k, spanFirst+i)
			}
		}
	}
}

// The white of the weights against the published white points, as WhitePoint's
// comment says.
func TestWhitesStayClose(t *testing.T) {
	for c, w := range allWeights() {
		p, err := WhitePoint(c)
		require.NoError(t, err)
		for k, v := range [3]float64{p.X, p.Y, p.Z} {
			assert.InDelta(t, v, w.White[k], 0.2, c)
		}
	}
}
