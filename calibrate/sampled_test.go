//go:build !study

package calibrate_test

// whole: tests of figures take all their cases. The README's test command takes
// a sample; with the build tag study they take all.
const whole = false

// someOf is how many of n pigments a shop of a sample has: two thirds.
func someOf(n int) int { return 2 * n / 3 }
