//go:build study

package castplan_test

const whole = true
