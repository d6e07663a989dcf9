//go:build study

package recipes

const whole = true
