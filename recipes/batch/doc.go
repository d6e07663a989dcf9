// Package batch turns a recipe and a mass into a sheet that can be weighed.
//
// Stage 5 of 6: colour, readings, calibration, recipe, batch sheet, archive.
//
// Loadings are in phr: grams of pigment paste per 100 g of MIXED resin, that
// is of side A and side B together. The paste comes on top, so a batch weighs
// more than its resin.
//
// # How much
//
// With the mix a:b by mass, w_A = a/(a+b), w_B = b/(a+b), loadings c_i and
// densities in g/ml, volumes adding up on mixing:
//
//	rho = (1 + sum c_i/100) / (w_A/rho_A + w_B/rho_B + sum (c_i/100)/rho_i)   (1)
//	T   = (V/(1 - z) + v) n (1 + w) rho                                       (2)
//	R   = T / (1 + sum c_i/100),  m_i = c_i R / 100                           (3)
//
// T is the whole batch, R its mixed resin and m_i a paste, all in grams; V is
// the cavity in ml, n the shots and w the waste as a share. (1) and (3) are
// conservation of mass, with the volume change of mixing and of curing left
// out. A paste of unknown density counts at the density of the clear mix.
//
// # The lines
//
// The side that takes the pigments is weighed first, the pigments into it from
// the smallest line to the largest, and the other side last, because the pot
// life starts with it. The cup stays on the scale, so each line also carries
// the running sum. Small lines come early because a slip there is large for
// its size and lines still to come can make up for it. On a scale of step s,
// with P the pigment side, O the other side and d_i the weighed doses:
//
//	O = s round(R w_O / s),  P = T - sum d_i - O                              (4)
//	c'_i = 100 p_i / R'                                                       (5)
//
// so the sheet sums to T to the last digit, the mix ratio holds within one
// step, and c' is what is really in the cup: p_i the paste in dose d_i, R' the
// resin as weighed.
//
// # What the scale does
//
// A display with step s is wrong by a uniform error, sd s/sqrt(12). A line
// read off the running sum is the difference of two readings, a line read from
// zero (tared) needs one; n drops of mass q whose single mass scatters by the
// share v have a sd of their own:
//
//	sd(d) = s/sqrt(6)   or   s/sqrt(12) tared   or   q v sqrt(n) by drops     (6)
//
// # Pre-dilution
//
// A paste too small to weigh is let down 1:k by mass in the pigment side and
// weighed as dose d. The dose carries resin, which the pigment side's own line
// gives back, so that P counts both and the mix ratio stands:
//
//	d = p (1 + k),  carried = d k/(1 + k),  P line = P - carried              (7)
//
// The dilution's strength x = 1/(1+k) was weighed too, paste u and resin k u:
//
//	sd(p)^2 = (x sd(d))^2 + (d x (1-x))^2 ((sd/u)^2 + (sd/(k u))^2)           (8)
//
// A pre-dilution that is at hand is taken before one is stirred, where its dose
// can be weighed and there is enough of it: x is then u/(u + v) as it was
// stirred, whatever ratio stands on the jar.
//
// # The grid
//
// What can be weighed are whole steps (or drops) n_i. The sheet does not round
// each line; it takes the combination within one step beyond the two nearest,
//
//	n* = argmin E(c'(n), sd(n)),  floor(n_i) - 1 <= n_i <= ceil(n_i) + 1       (9)
//
// with E the caller's expected difference (Outcome), tried exhaustively for up
// to five pigments. The resin takes up the change by (4). If the order may
// grow, T is free up to that share as well.
//
// # Cups
//
// The clock runs while the other side is weighed, the cup mixed, degassed and
// used up: poured at q grams a minute, and where parts are injected, k of them
// loaded and injected in t_shot each. It must end inside the pot life t less a
// margin:
//
//	t_weigh + t_mix + t_degas + m/q + k t_shot <= t (1 - margin)             (10)
//	container = headroom m / rho                                             (11)
//
// A data sheet's pot life is at 23 °C. Warmer resin has less of it, half every
// H degrees, 10 unless known (common practice, no source); a colder room is not
// counted on:
//
//	t = t_23 2^-((T - 23)/H), T >= 23                                        (13)
//
// Cups are put on one clock by (14), in shots.go.
//
// Headroom 4 for vacuum (3 to 4 times the mixed volume; common practice, no
// source), because the mix rises before it collapses. Pot life is quoted for a
// small mass, about 100 g; a larger cup sets sooner (from memory), which is
// not modelled and is what the margin is for. With several cups all pigment
// goes into one pot of the pigment side, which has no clock, so that every cup
// has the same colour.
//
// # Overshoot
//
// What is in the cup stays there. Either the resin stays and the pigments that
// can still be added are solved again for the smallest E, or everything grows
// by the largest overshot share,
//
//	g = max over poured lines of poured / planned                            (12)
//
// which restores the colour at the price of material.
//
// Not modelled: loss on the walls of cups and syringes, evaporation, drift of
// the scale, buoyancy, moisture in a paste, shrinkage of the mould.
package batch
