//go:build !race

package recipes

const underRace = false
