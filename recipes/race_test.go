//go:build race

package recipes

// underRace: the studies of the figures take minutes under the race detector,
// and nothing in them runs differently there.
const underRace = true
