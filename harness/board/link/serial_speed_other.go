//go:build darwin || freebsd

package link

// speedOf is not known on this platform: a speed that the driver rounds is not noticed.
func speedOf(int) (baud int, ok bool) { return 0, false }
