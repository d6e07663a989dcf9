//go:build study

package calibrate_test

const whole = true

// someOf is how many of n pigments a shop of a sample has: all.
func someOf(n int) int { return n }
