package harness

// Project is what the file of a folder tells commands that are told nothing else. Paths are as the disk has them, from
// the working folder.
type Project struct {
	File   string // of the project
	Digest string // SHA-256 of the file, and of the rig's

	Name      string
	Scenarios []string // files and folders
	Boards    []ProjectAddress
	NMEA      []ProjectAddress
	Rig       string // empty: none
	RigPlace  Place
	Records   string // folder for records; empty: none are kept
	Page      string // file of the page; empty: none is written
	Jobs      int    // 0: as many as there are processors
}

// ProjectAddress is where a project says that the board of a role is, or the input of its receiver.
type ProjectAddress struct {
	Role, Address string
	Place         Place
}
