// Package ageing belongs to Stage 5 of 6: it tells how a cured part still changes
// its colour. It knows only numbers: L*, a*, b* of parts at ages in hours.
//
// A part at age t reads, along each of L*, a*, b*,
//
//	y(t) = s - D exp(-t / tau) + e                                 (1)
//
// s where it ends, D what it changes by in all, tau the time constant of its
// resin, e the noise of the reading. D differs from part to part about the mean of
// the resin with standard deviation sigma, along each axis alike. From age t to the
// age T at which it counts as settled a part changes by
//
//	D (exp(-t / tau) - exp(-T / tau))                              (2)
//
// Priors, common practice, no source: parts are settled after 7 days, as data
// sheets say of the cure at room temperature; tau is 56 h within a factor of 2.7
// (95 %), so that then 95 % of the change is over; D is none, 0.5 either way (sd)
// along each axis; sigma is half-Cauchy of scale 0.15, which lets few parts tell a
// large one (the shape by Gelman, Bayesian Anal. 1, 515 (2006)). s is not known beforehand. Given tau
// and sigma all else is linear and normal: s is integrated out with a flat prior,
// D has its posterior and the readings their evidence in closed form (Gelman et
// al., Bayesian Data Analysis, 3rd ed., sections 14.2 and 15.1). tau and sigma are
// weighed over a grid. Only parts that were read at several ages tell anything.
//
// Not modelled: the temperature at which a part cures or is read, light, and that a
// colour's own depth scales the change.
package ageing
