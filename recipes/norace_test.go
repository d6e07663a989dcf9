//go:build !race

package recipes

const underRace, UnderRace = false, false
