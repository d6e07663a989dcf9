// Package virtualshop invents shops to try a calibration on: a resin, pigments
// with curves of their own, light, a scale and an instrument, all known exactly,
// so that what a calibration claims can be held against the truth.
//
// What is written on a chip is not what is in it: the scale rounds, a paste is
// not equally strong in every pour, the instrument scatters. All chance comes
// from the source passed in, so the same seed gives the same shop and the same
// chips.
//
//	K = K0 + sum c_i K_i, S = S0 + sum c_i S_i      (1) Duncan 1940
//
// with c in phr. Light goes by Kubelka-Munk (TwoFlux) or by radiative transfer
// (layer.Slab, with mu_a = K/2 and mu_s' = 4S/3). All curves, levels and noises
// are invented; no file is read.
package virtualshop
