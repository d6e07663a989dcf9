//go:build !race

package castplan_test

// underRace: studies of figures take minutes under the race detector, and
// nothing in them runs differently there.
const underRace = false
