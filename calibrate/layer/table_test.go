package layer

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// At the knots of the spline the table stands on the direct solution.
func TestKnotsAreTheDirectSolution(t *testing.T) {
	for _, o := range []Optics{
		DiffuseEight(1.5),
		{Index: 1, Directions: 16, ViewDegrees: 8},
		{Index: 1.5, Anisotropy: 0.55, Directions: 16, ViewDegrees: 8},
		{Index: 1.35, Anisotropy: 0.8, Directions: 16, ViewDegrees: 45},
		{Index: 1.7, Anisotropy: -0.3, Directions: 16, ViewDegrees: 8},
		{Index: 1.5, Directions: 16, ViewDegrees: 8, Gap: true},
		{Index: 1.45, Anisotropy: 0.9, Directions: 32, ViewDegrees: 8},
	} {
		s, err := NewSlab(o)
		require.NoError(t, err)
		f := s.atKnots()
		for i := 0; i < clouds+2; i += 3 {
			for j := 1; j < veils+2; j += 7 {
				u, v := knot(i, clouds), knot(j, veils)
				r := s.node(u, v)
				const near = 1e-6 // of R
				require.InDelta(t, r.Black, f[0].At(i, j), near, "%+v: Black at %g, %g", o, u, v)
				require.InDelta(t, r.In*r.Out, v*f[1].At(i, j), near, "%+v: In Out at %g, %g", o, u, v)
				require.InDelta(t, r.Under, f[2].At(i, j), near, "%+v: Under at %g, %g", o, u, v)
			}
		}
	}
}
