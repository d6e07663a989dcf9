//go:build study

package gamut

const whole = true
