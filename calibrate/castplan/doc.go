// Package castplan says which chips to cast: the first ones of a new shelf
// (Start), and the next ones of a shelf that is already calibrated (Next).
//
// A calibration holds what its chips left unknown as numbers z of covariance
// C. A chip that is not yet cast would be read as y = y0 + J z + e, where J is
// how the colour or the spectrum answers to z, and e is the noise of the
// reading, the error of weighing the chip in its cup, and that of its
// thickness, of covariance N. Reading it would leave (Kalman, J. Basic Eng. 82,
// 35 (1960))
//
//	C' = C - C J' (J C J' + N)^-1 J C                               (1)
//
// whatever the reading says, so what a chip teaches is known before it is
// cast. A mixture of interest answers to z by its Lab gradient G; with M = B'B
// the metric of CIEDE2000 at its colour and E the model error, its error in
// CIEDE2000 units is normal with covariance
//
//	Q = B (w^2 (G C G' + D) + E) B'                                 (2)
//
// with D what each casting of it has of its own, which no chip takes away,
//
// and the expected CIEDE2000 is the mean length of such an error, with
// t = tr Q and u = tr Q^2 / t^2 close to
//
//	sqrt(t) (1 - 0.254 u + 0.052 u^2)                               (3)
//
// which is exact to 0.001 sqrt(t) for one, two and three equal variances and up
// to 3 % low between them. Chips are chosen one after the other, each for the
// largest fall of the mean of (3) over the mixtures of interest, with C carried
// on by (1).
//
// Loadings are in phr and always what a whole number of steps of the scale
// makes in the chip's cup.
//
// Not modelled: that the calibration may be wrong about its own curves where it
// knows little (everything is linear about the present fit), and that more
// chips also teach how large the noise and the model error are.
package castplan
