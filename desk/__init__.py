"""Where people meet the tool: command line, intake, papers and page. Nothing imports it."""
