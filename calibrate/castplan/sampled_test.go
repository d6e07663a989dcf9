//go:build !study

package castplan_test

// whole: tests of figures take all their cases. The README's test command takes
// a sample; with the build tag study they take all.
const whole = false
