package color

// MetamerismLab is the special metamerism index for a change of illuminant
// (or observer) from Lab values (12): how far a sample that matches its
// standard under the reference condition parts from it under the test
// condition. A sample that does not quite match is corrected first: the Lab
// difference it has under the reference is taken off it under the test
// condition (additive correction of ISO 18314-4). ErrConditions unless the two
// colours of each pair share a condition; also an error for an unknown formula.
func MetamerismLab(stdRef, smpRef, stdTest, smpTest Lab, f Formula) (float64, error) {
	if err := same(stdRef.Under, smpRef.Under); err != nil {
		return 0, err
	}
	if err := same(stdTest.Under, smpTest.Under); err != nil {
		return 0, err
	}
	corrected := [3]float64{
		smpTest.L - (smpRef.L - stdRef.L), // (12)
		smpTest.A - (smpRef.A - stdRef.A),
		smpTest.B - (smpRef.B - stdRef.B),
	}
	return f.Between(stdTest.Values(), corrected)
}

// MetamerismSpectral is the same index from spectra (13): the fundamental of
// the sample under the reference condition, the part that makes its colour
// there, is replaced by that of the standard (Cohen and Kappauf 1982; spectral
// correction of ISO 18314-4), and the difference under the test condition is
// what is left. Errors: an unknown condition or formula.
func MetamerismSpectral(std, smp *Reflectance, ref, test Condition, f Formula) (float64, error) {
	at, err := shared(ref)
	if err != nil {
		return 0, err
	}
	seen, err := shared(test)
	if err != nil {
		return 0, err
	}
	// The fundamental of r is A (A'A)^-1 A'r, A the weights as columns, so the
	// correction is that of the difference std - smp.
	var gram [3][3]float64
	for i := range gram {
		for j := range gram {
			for band := range Bands {
				gram[i][j] += at.W[i][band] * at.W[j][band]
			}
		}
	}
	want, have := at.tristimulus(std), at.tristimulus(smp)
	c := solve3(gram, [3]float64{want[0] - have[0], want[1] - have[1], want[2] - have[2]})
	corrected := *smp
	for band := range corrected {
		corrected[band] += c[0]*at.W[0][band] + c[1]*at.W[1][band] + c[2]*at.W[2][band] // (13)
	}
	return f.Between(seen.Lab(std).Values(), seen.Lab(&corrected).Values())
}

// solve3 solves m x = v for a symmetric positive m by Cramer's rule. The
// matching functions are independent, so the determinant is far from 0.
func solve3(m [3][3]float64, v [3]float64) [3]float64 {
	det := func(a, b, c [3]float64) float64 {
		return a[0]*(b[1]*c[2]-b[2]*c[1]) - a[1]*(b[0]*c[2]-b[2]*c[0]) + a[2]*(b[0]*c[1]-b[1]*c[0])
	}
	whole := det(m[0], m[1], m[2])
	return [3]float64{ // rows are columns, m being symmetric
		det(v, m[1], m[2]) / whole,
		det(m[0], v, m[2]) / whole,
		det(m[0], m[1], v) / whole,
	}
}
