"""How far the weather may turn out other than foretold, and many equally likely courses of it."""
