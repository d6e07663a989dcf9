package layer_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/calibrate/layer"
)

// Fresnel surface against the table of n, and Judd 1942: 0.092 and 0.596 at 1.5.
func TestSurfaceShares(t *testing.T) {
	for _, row := range table(t, "judd1942/saunderson_k1_k2.csv") {
		s := layer.Surface(row["n"])
		require.InDelta(t, row["k1_normal"], s.Normal, 0.5001e-6, "%v", row)
		require.InDelta(t, row["k1_diffuse"], s.Outside, 0.5001e-6, "%v", row)
		require.InDelta(t, row["k2_diffuse"], s.Inside, 0.5001e-6, "%v", row)
	}
	require.Equal(t, layer.SurfaceShares{}, layer.Surface(1))
}

// A gap alone mirrors; a perfect backing stays perfect.
func TestAcrossGap(t *testing.T) {
	s := layer.Surface(1.5)
	require.InDelta(t, s.Inside, s.AcrossGap(0), 1e-15)
	require.InDelta(t, 1, s.AcrossGap(1), 1e-12)
	require.Less(t, s.AcrossGap(0.3), s.AcrossGap(0.4))
}
