// Package charts belongs to Stage 3 of 6: it draws what a calibration knows and
// what it does not. It writes to an io.Writer and touches no file; the same
// calibration gives the same bytes.
//
//	curves        K and S of the resin and all pigments, small, on one scale
//	curves-resin  K and S of the resin, per mm
//	curves-CODE   K and S of a pigment, per mm and phr
//	chips         measured against fitted, worst chip first
//	left-out      a*b* map with what the fit says of each chip it has not seen
//	gamut         what the pigments can reach at given lightnesses
//	chips (csv)   the numbers of every chip
//	curves (csv)  K and S with the 95 % bands, wavelength by wavelength: pigments
//	              per mm and phr, the resin per mm
//
// Charts are SVG and PNG. The bands of K and S are
//
//	K exp(-1.96 w s) to K exp(1.96 w s)    (1)
//
// with s the standard deviation of ln K the calibration states for the band of
// wavelengths and w the factor leave-one-out widens its bars by: 95 % of a
// normal distribution (NIST/SEMATECH e-Handbook, table 1.3.6.7.1), each
// wavelength by itself. What neighbouring wavelengths and K and S have in
// common is not shown.
//
// Colours are shown as far as a screen can (sRGB); what it cannot show is cut
// off. No reading depends on colour alone: lines differ in their dashes, points
// in their form, and everything is outlined.
package charts
