//go:build !race

package calibrate_test

const underRace = false
