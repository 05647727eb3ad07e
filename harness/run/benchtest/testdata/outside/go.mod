module example.org/rocket

go 1.26.0

require drystage v0.0.0

replace drystage => ../../../../..
