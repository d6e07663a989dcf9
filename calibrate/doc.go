// Package calibrate finds from chips of known loading how a resin and its
// pigments absorb and scatter light, with what the chips leave unknown.
//
// Stage 3 of 6: readings, colour, calibration, recipe, batch, archive.
//
// Units: K and S per mm, of a pigment per mm and phr (grams of paste per 100 g of
// mixed resin); thickness in mm; reflectance factor as a fraction; 31 bands, 400
// to 700 nm. A curve is ln K and ln S of the resin or of one pigment.
//
// # The fit
//
// Fit goes through these steps.
//
//  1. The problem is set up: the unknowns x are the curves, and in units of their
//     standard deviation the error e of every weighed loading, of every thickness,
//     and of the surface constants. With c the written loading, s its standard
//     deviation by the scale and w the strength scatter of a paste,
//
//     K = K_0 + sum (c_i + d_i e_i) K_i, S likewise, d^2 = s^2 + (w c)^2     (1)
//
//     (Duncan, Proc. Phys. Soc. 52, 390 (1940); errors in variables: Carroll et
//     al., Measurement Error in Nonlinear Models, 2006). Package layer makes of K,
//     S, thickness and backing the reflectance factor, and package color of that
//     a Lab, where a Lab was read: h(x). What scatters past another aperture than
//     that of most chips is lost as if absorbed (mix.go (2)), by an unknown of x.
//
//  2. The optimum is where -2 ln of the posterior is least,
//
//     Q(x) = sum t^2 |y - h(x)|^2 / noise^2 + sum v' P v + |e|^2             (2)
//
//     over readings y of trust t, 1 unless downweighted, with what of a reading is
//     open beside its noise (Chip.OpenSD) counted as noise, and curves, v being
//     ln K or ln S less its level and P the precision of a prior on its second
//     and first differences and its level. Levenberg and Marquardt's steps find
//     it (Marquardt, J. Soc. Ind. Appl. Math. 11, 431 (1963)): from flat curves,
//     with the noise first taken to be 40, 10 and 3 times what it is.
//
//  3. What curves and readings are like is learnt of the readings: the roughness
//     of each curve by expectation and maximisation (Dempster, Laird and Rubin,
//     J. R. Stat. Soc. B 39, 1 (1977)), the noise by counting off the unknowns
//     that the readings determine (MacKay, Neural Computation 4, 415 (1992),
//     eq. 4.9). The strength scatter w, the levels about which curves scatter, and
//     the refractive index of an exact layer stand where the likelihood with x
//     integrated out is greatest, by Laplace's approximation with H half the
//     curvature of Q at the optimum,
//
//     -2 ln L = Q + ln det H - ln det P + sum ln(noise^2 / t^2)              (3)
//
//     (MacKay, as above): the optimum of all unknowns at once would get them
//     wrong. Newton's method (gonum/optimize) finds it. By few spectra (3) at the
//     optimum leaves out room that strength scatter has elsewhere, so it is also taken
//     at the optima of less of it. Roughness and noise stay expectation-maximisation:
//     followed to the top by Newton's method, 26 spectra of testdata/real_pigments came
//     out at 0.19 in place of 0.16. No mistake on record may
//     pass for strength scatter, so chips in doubt are downweighted meanwhile.
//
//  4. Layer models are selected by ln L and what the model must do better than
//     Kubelka-Munk, after step 3 for each: the exact layer only where it is worth
//     learning, then with its particles scattering more and less forward.
//
//  5. Chips that are wrong on record are looked for. A chip's size is how far its
//     reading lies outside what the others say; the pigments of large ones, and of
//     chips that agree better with the rest as something else, are suspect. Every
//     mistake about their chips (a slipped loading, a swap, a wrong backing,
//     unexplained) is tried on the few chips it concerns, where these are many only
//     if its chips stand out, the best few on all, and told if its odds by (3) and how often such mistakes are made are clear. The
//     fit takes the chips for what it found, downweights what it cannot explain,
//     and changes nothing on record. If it found any, every layer model is asked
//     again.
//
//  6. Layer models that remain possible are averaged over: each counts by its ln L
//     less its penalty (Hoeting et al., Statistical Science 14, 382 (1999)), and
//     what they say differently of usual mixtures goes into the bars.
//
//  7. No shop obeys (1) quite. From the optimum so far the fit is led on as of a
//     crooked shop: ln K and ln S of every casting miss the law of mixing by smooth
//     curves of their own (castingerror.go), strength goes with a power of the loading
//     and scattering crowds (law.go), a reading is off by a scale and an offset. How
//     far each strays is learnt by (3) too, about what is usual of such shops, and then
//     counted at its root mean square over what stays open of it; what exponents and
//     crowding may be stays as open as the chips leave it. By spectra the way is taken
//     from flat curves too, with step 3 in turn until neither leads on, and where
//     castings miss much from two starts. This fit is taken where the readings are
//     likelier by it, what was known beforehand of noise and curves counted; a straight
//     shop stays what it was. Where the shop is crooked the layer models are asked
//     again, each led on so: what castings miss passes for another layer as long as none
//     knows of it. What the other would say of usual mixtures goes into the bars by what
//     it is still worth, as in step 6, and how it
//     strays, as does how little is known of the levels of scattering (doubt.go).
//
//  8. Each casting is left out by the linearised update: with residual r and
//     sensitivity J of the chip in units of its noise and C the covariance of x,
//
//     r_out = (I - J C J')^-1 r, of covariance (I - J C J')^-1               (4)
//
//     (Cook and Weisberg, Residuals and Influence in Regression, 1982), I standing
//     for all that is the casting's own where it is more than noise.
//
//  9. The model error is chosen so that the left-out chips are likeliest: the
//     posterior's standard deviations are multiplied by Widen, and every colour
//     has a further error of Floor and, from steps 6 and 7, of Layer and Shop.
//
//  10. The posterior is kept in the few directions in which each curve is uncertain
//     and a colour would show it, with the covariance of all of them.
//
// The fit of a straight shop is fast because most of its normal equations are local
// (package minimize): smoothness and spectra tie neighbouring bands, weighing errors
// stand in a border, and colours are a few far-reaching rows, which mostly share the
// resin and the white only. In a crooked one, and where chips are many, each casting's
// own unknowns are eliminated first, and what is left are blocks of curves that meet in
// a chip.
//
// # After the fit
//
// A Calibration is never changed. NewLot and WithLots open the strengths of lots,
// Learn returns one that also knows new chips or poured parts, by damped
// Gauss-Newton steps from the posterior (its equations stand there). An Evaluator
// is the hot path: mixture to colour, gradient and covariance without allocating.
//
// # Files
//
// In and out: chip.go, units.go, aperture.go, instrument.go (what of a chip's reading is used),
// conditions.go (which readings may be compared), calibration.go, report.go,
// suspect.go.
//
// The fit as a whole: fit.go. Step 1: evidence.go, mix.go, prior.go. Step 2: casting.go,
// linearise.go, system.go, local.go, solve.go. Step 3: tune.go, likelihood.go,
// climb.go, hyperparameters.go, downweight.go. Step 4: candidate.go,
// modelselection.go. Step 5: recorderrors.go, suspectpigments.go, mistake.go,
// comparemistakes.go, diagnose.go, downweight.go. Step 6: modelaveraging.go. Step 7:
// law.go, castingerror.go, hyperparameters.go, doubt.go. Step 8: leaveout.go. Step 9:
// modelerror.go. Step 10: posterior.go.
//
// Updates: lot.go, learn.go, update.go, relinearise.go, discrepancy.go.
//
// Predictions: evaluate.go, covariance.go, sensitivity.go, predict.go, judged.go,
// landing.go, expected.go.
//
// Not modelled: fluorescence, gloss and texture of the surface, mixtures that miss (1)
// alike because they are alike, pigment that settles or flocculates.
package calibrate
