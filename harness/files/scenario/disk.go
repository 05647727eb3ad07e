package scenario

import "drystage/harness/disk"

// Disk is the machine's file system with paths as a person names them; only regular files are opened.
type Disk = disk.Paths
