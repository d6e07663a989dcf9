//go:build race

package calibrate_test

// underRace: the studies of the figures take minutes under the race detector,
// and nothing in them runs differently there.
const underRace = true
