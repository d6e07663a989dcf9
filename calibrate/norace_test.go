//go:build !race

package calibrate

const UnderRace = false
