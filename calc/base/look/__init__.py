"""How everything looks: the colours, line widths and letter sizes of pictures, PDF, HTML, panels and lesson."""
