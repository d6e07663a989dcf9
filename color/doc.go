// Package color is Stage 1 of 6: from a measured surface to colour numbers. It
// knows reflectance, the light and the observer it is seen with, CIELAB, and
// how far two colours are apart.
//
// Units: wavelength in nm; reflectance factor R as a fraction, 1 for the
// perfect reflecting diffuser; tristimulus values with Y = 100 for it; L* from
// 0 to 100; hue in degrees. Every colour carries the Condition it is stated
// under, and colours under different conditions are never compared
// (ErrConditions). Nothing here reads a file or a clock, and nothing exported
// can be changed.
//
// From light to tristimulus values. S is the relative power of the illuminant
// (ISO/CIE 11664-2, CIE 15:2018; fluorescent lamps and LEDs dark outside
// 380-780 nm), x, y, z the matching functions (ISO/CIE 11664-1), both per nm
// from 360 to 830 nm, S straight between its 5 nm values:
//
//	X = k sum R S x, also Y with y, Z with z          (1) CIE 15:2018, 7.1
//	k = 100 / sum S y                                 (2) CIE 15:2018, 7.1
//	S_A = 100 (560/l)^5 (exp(c/(2848 560)) - 1) /     (3) ISO/CIE 11664-2,
//	      (exp(c/(2848 l)) - 1), c = 1.435e7 nm K         illuminant A
//
// Readings hold R at 1, 5, 10 or 20 nm only. Between bands R is the Lagrange
// polynomial through its neighbours, cubic, and quadratic in the first and last
// interval; with its coefficients L_i the sum (1) becomes weights of the bands.
// Weights of bands that were not read are added to the first or last read one.
//
//	W_i = k sum S x L_i                               (4) ASTM E2022
//	X = sum W_i R_i                                   (5) ASTM E308
//
// The white is the sum of the weights. It is the same for every step. The
// published white points (WhitePoint) are sums of the 5 nm tables over 380-780
// nm and differ from it by 0.02 for D65 and 0.2 at most.
//
// CIELAB and differences, d for sample less standard, 1 for the standard, 2
// for the sample:
//
//	L* = 116 f(Y/Yn) - 16, a* = 500 (f(X/Xn) - f(Y/Yn)),
//	b* = 200 (f(Y/Yn) - f(Z/Zn)); f(t) = t^(1/3), or
//	841 t/108 + 4/29 for t up to (6/29)^3             (6) ISO/CIE 11664-4
//	dE76^2 = dL^2 + da^2 + db^2,
//	dH = (a1 b2 - a2 b1) / sqrt((C1 C2 + a1 a2 + b1 b2)/2)
//	                                                  (7) Seve 1991
//	dE94^2 = (dL/kL)^2 + (dC/(1 + K1 C1))^2 +
//	         (dH/(1 + K2 C1))^2                       (8) CIE 116-1995
//	dECMC^2 = (dL/(l SL))^2 + (dC/(c SC))^2 +
//	          (dH/SH)^2                               (9) ISO 105-J03
//	dE00^2 = (dL'/SL)^2 + (dC'/SC)^2 + (dH'/SH)^2 +
//	         RT (dC'/SC)(dH'/SH)                      (10) ISO/CIE 11664-6;
//	                                                  Sharma, Wu, Dalal 2005
//	dE00^2 = d' M d for small d; M from (10) with its
//	S and RT at the standard                          (11) to first order
//
// Metamerism and repeated readings:
//
//	Lab2' = Lab2,test - (Lab2,ref - Lab1,ref)         (12) ISO 18314-4, additive
//	R2' = R2 + A (A'A)^-1 A' (R1 - R2), A the weights
//	of the reference condition as columns             (13) Cohen, Kappauf 1982;
//	                                                  ISO 18314-4, spectral
//	MCDM = mean of dE00(mean, reading)                (14) after Billmeyer, Alessi 1981
//
// Readings at 20 nm are brought to the 10 nm of the model by the fifth-degree
// polynomial of Sprague with its published end points:
//
//	R(x) = R_0 + c1 x + ... + c5 x^5                  (15) CIE 167:2005
//
// Not modelled: fluorescence (a reading is taken to hold under every light),
// the bandwidth of the instrument, chromatic adaptation other than Bradford's
// for D50 swatches.
package color
