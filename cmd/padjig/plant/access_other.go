//go:build !unix

package plant

import "io/fs"

// readByOthers cannot be told from the mode of a file here.
func readByOthers(fs.FileMode) bool { return false }
