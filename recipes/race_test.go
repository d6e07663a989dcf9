//go:build race

package recipes

// underRace: the studies of the figures take minutes under the race detector,
// and nothing in them runs differently there. UnderRace is for the tests outside
// the package.
const underRace, UnderRace = true, true
