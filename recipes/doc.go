// Package recipes finds the loadings that match a target.
//
// Stage 4 of 6: readings, colour, calibration, recipe, batch, archive.
//
// With t the target's Lab, p(c) the predicted Lab of loadings c, d = p(c) - t
// and M the quadratic form in which dE00^2 = d' M d near the target,
//
//	f(c) = d' M d                                             (1) predicted
//	F(c) = f(c) + tr M (P(c) + J W J' + T)                    (2) expected
//
// P is what the calibration leaves uncertain of the colour of c, J = dp/dc, W
// the variances of weighing the batch at hand, T that of the target's own
// reading. F is the expected squared difference of a pour; the recipe with the
// smallest f is usually the one whose error bars flatter it most, so F is what
// is minimised. Further lights in the target add their own f with a weight.
//
// What is reported of a recipe is not (2) but the distribution of the true
// CIEDE2000 (calibrate.Land).
//
// Not modelled: correlation between the errors of several pours, and errors of
// the mould, the cure or the finish.
package recipes
