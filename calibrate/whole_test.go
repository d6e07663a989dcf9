//go:build study

package calibrate_test

const whole = true
