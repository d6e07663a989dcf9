// Package control belongs to Stage 5 of 6: it tells whether a run of parts holds
// its colour. It knows only numbers: values in the order of casting, one for each
// cup.
//
// Individuals is a Shewhart chart of single values (ISO 7870-2; NIST/SEMATECH
// e-Handbook of Statistical Methods, 6.3.2.2):
//
//	sigma = mean |x_i - x_i-1| / d2                               (1)
//	limits = mean +- 3 sigma                                      (2)
//
// with d2 = 1.128 for ranges of two. Cusum is the tabular cumulative sum of
// deviations from a level m (ISO 7870-4; e-Handbook 6.3.2.3), which sees a small
// shift that stays long before a single value leaves its limits:
//
//	high_i = max(0, high_i-1 + x_i - m - k)                       (3)
//	low_i  = max(0, low_i-1 + m - x_i - k)                        (4)
//
// and signals above h. A shift began after the last zero of the sum that signals.
//
// A difference such as CIEDE2000 is never below 0 and is skewed. It has an upper
// limit only: what 99.73 % of the parts of a steady run stay below, as many as
// stay within (2), where L*, a*, b* scatter normally about the run's mean with the
// covariance of successive differences (Holmes and Mergen, Qual. Eng. 5, 619
// (1993); from memory)
//
//	S = sum d_i d_i' / 2(n - 1),  d_i = x_i - x_i-1               (5)
//
// Share has the interval of Clopper and Pearson (Biometrika 26, 404 (1934)).
// Decide takes a part for within tolerance only where the probability of that,
// the uncertainty of the reading counted, is high enough (JCGM 106:2012, guarded
// acceptance, 8.3.2): a decision with a stated risk.
package control
