package scenario

import "drystage/harness"

// ProjectFile is the name under which a project's file is found.
const ProjectFile = "drystage.yaml"

var projectTable = blockOf("a project", "What commands do in this folder and below it when they are told nothing else. The file is called drystage.yaml; what the command line says counts instead. It starts no program and opens no port, socket or rig before you have said `drystage trust`.", func(p *harness.Project) []row {
	return []row{
		kindRow("project"),
		{key: "name", is: textLine{most: 60}, doc: "what the project is called", to: &p.Name},
		{key: "scenarios", is: listShape{ownPath{}, 1, 100}, doc: "files and folders that bench, defects and lint take when none is named; default this folder", to: &p.Scenarios},
		{key: "boards", is: namedBlocks{projectAddress{kinds: projectBoards}, 1, 8, nameLetters, "a board"}, doc: "where the board of each role is, as for --board of bench, sweep, hunt, replay, contract, rig --measure and worker --bench; default the rig's address, or the built-in board"},
		{key: "nmea", is: namedBlocks{projectAddress{kinds: projectInputs}, 1, 8, nameLetters, "a board"}, doc: "where the NMEA 0183 input of a board is, by the board's role, as for --nmea"},
		{key: "rig", is: ownPath{}, doc: "the rig's file, as for --rig; `drystage rig` shows it", to: &p.Rig},
		{key: "records", is: ownPath{}, doc: "the folder in which bench keeps a record of each scenario, as --out, when it flies the project's scenarios, and which ready reads; default none are kept", to: &p.Records},
		{key: "page", is: ownPath{ext: ".html"}, doc: "the page that bench writes then, as --html; default none", to: &p.Page},
		{key: "jobs", is: number{1, 1024, true}, doc: "flights at once, as --jobs; default one for each processor", to: &p.Jobs},
	}
})

var (
	projectBoards = []string{"mock", "exec", "serial", "unix", "tcp", "avr"}
	projectInputs = []string{"serial", "unix", "tcp"}
)
