// Package layer predicts what a spectrophotometer reads on a cast layer: stage 2
// of 6, inside the calibration, between the readings' colour and the recipe.
//
// A layer of resin, X mm thick, absorbs and scatters; K and S per mm say how
// much, and are linear in the loading of every pigment. It lies on a backing of
// reflectance factor Rg and has a smooth surface. Two models answer the measured
// reflectance factor R, 0..1, of one wavelength, and its partials to K, S, X and
// Rg, through one interface, Layer.
//
// # Two fluxes
//
// KubelkaMunk follows diffuse light down and diffuse light up:
//
//	dR/dX = S - 2(K+S) R + S R^2                                  (1) Kubelka and Munk 1931
//	R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX)         (2) Kubelka 1948
//	    a = 1 + K/S, b = sqrt(a^2 - 1)
//	R = a - b for X infinite                                      (3)
//	Rm = k1 + (1-k1)(1-k2) R / (1 - k2 R)                         (4) Saunderson 1942
//
// with R inside the resin and Rm measured; without the leading k1 where the
// specular reflection is excluded. It is written so that every limit is finite:
// X, K, S or b at 0, X infinite.
//
// # Radiative transfer
//
// Exact and Slab follow the light in all directions, mu being the cosine to the
// normal and x the optical depth:
//
//	mu dI/dx = -I + (albedo/2) integral p(mu, mu') I(mu') dmu'    (5) Chandrasekhar 1950
//	r = ((n c - c')^2/(n c + c')^2 + (n c' - c)^2/(n c' + c)^2)/2 (6) Fresnel; c inside, c' outside
//	K = 2 mu_a, S = 3/4 mu_s'                                     (7)
//	R = Mirror + Black + In Out Rg / (1 - Rg Under)               (8)
//	mu_s = mu_s'/(1 - g), moments of p: g^l                       (9) Henyey and Greenstein 1941
//
// n is the refractive index of the resin, 1 in air; beyond the critical angle
// r = 1. (7) makes both models the same where light is diffuse throughout, so K
// and S mean the same to either. The five shares of (8) are those of Response:
// light along the view direction mirrored, reflected over black, brought to the
// backing; light from the backing that leaves and that comes back. A Lambertian
// backing asks for nothing more. The instrument is d/8: diffuse light in, view
// at 8 degrees, by reciprocity the same as 8 degrees in and all light out.
//
// Slab solves (5) in a number of directions split at the critical angle, by
// eigenvectors (Stamnes, Tsay, Wiscombe and Jayaweera, Appl. Opt. 27, 2502
// (1988)), which costs a tenth of adding and doubling (van de Hulst 1980; Prahl,
// van Gemert and Welch, Appl. Opt. 32, 559 (1993)) and, as a test shows, answers
// the same. It may have any optics, also forward scattering.
//
// Exact is for fitting: isotropic scattering of the reduced coefficient
// (similarity: van de Hulst 1980), Black, In Out and Under in a table over two
// coordinates of the layer (10), read with a biquadratic spline. The spline is
// smooth in the first derivative and its partials are its own. At n = 1.5 over K
// and S of 1e-6..1e3 per mm, X of 0.05..20 mm and any Rg it is within 2e-5 of R
// of the direct solution, half of the layers within 2e-7, and K dR/dK, S dR/dS,
// X dR/dX within 1e-4. Outside that range it runs smoothly to the right limits.
//
// # The backing
//
// Both models take Rg as it is, in optical contact: what the backing reflects of
// diffuse light that is already inside the resin. This is right for a layer cast
// or wetted onto its backing. A chip laid dry on a tile has an air gap under it,
// whose total reflection returns some 60 % of diffuse light before the tile is
// met: black paper under a clear chip then looks like a backing of 0.61, not
// 0.05. Optics.Gap puts the gap into Exact and Slab; for KubelkaMunk,
// SurfaceShares.AcrossGap gives the Rg to use. Where the layer hides its backing
// the two agree.
//
// # Not modelled
//
// Light lost at the edges of a chip or of the instrument's port, gloss short of
// a mirror, rough surfaces, pigment that settles, fluorescence, coherence,
// polarisation, an index that changes with the wavelength or the loading.
package layer
