//go:build race

package calibrate

// UnderRace: the studies of the figures take minutes under the race detector,
// and nothing in them runs differently there.
const UnderRace = true
