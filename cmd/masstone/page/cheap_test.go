package page

// Cheap has a passcode tried with little memory, where a test is about something else
// than what guessing costs.
func Cheap(o *Options) { o.memory = 8 * hashThreads }
