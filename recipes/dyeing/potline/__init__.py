"""The reader of what is typed or dictated at the pot.

A line goes tokens -> names of the studio, times and numbers joined -> clauses -> each clause by the small grammars of
`states`, `jars` and `additions`, which must understand every word of it. The bar is never a wrong amount: what is not
understood whole is a note with a question.
"""

from recipes.dyeing.potline.lines import read_line
from recipes.dyeing.potline.reading import Known, Reading
from recipes.dyeing.potline.saying import describe

__all__ = ["Known", "Reading", "describe", "read_line"]
